#include "catch.hpp"
#include "notebook_scene.hpp"

#include <cstdlib>
#include <fstream>

using namespace whirler;
using namespace whirler::notebook;
using Catch::Matchers::ContainsSubstring;

namespace {

/// Writes `seconds_long` seconds of a made-up coat; ends it where `end` says so.
std::int64_t write_coat(Notebook& notebook, int seconds_long, bool end,
                        CoatStart start = a_start()) {
  auto writer = notebook.begin_coat(start);
  REQUIRE(writer.ok());
  for (int second = 0; second < seconds_long; ++second)
    REQUIRE(write_second(*writer, second).ok());
  if (end)
    REQUIRE(writer->finish(an_end(), seconds(seconds_long)).ok());
  return writer->number();
}

} // namespace

TEST_CASE("notebook: a coat reads back as it was written, pulses to the tick") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("notebook.db"));
  REQUIRE(notebook.ok());
  const auto number = write_coat(*notebook, 3, true);
  const auto coat = notebook->coat(number);
  REQUIRE(coat.ok());
  CHECK(coat->state == CoatState::finished);
  CHECK(coat->start.board == "gauge 7");
  CHECK(coat->start.started == a_start().started);
  CHECK(coat->start.files == a_start().files);
  CHECK(coat->start.cautions == a_start().cautions);
  CHECK(coat->start.tick == microseconds(0.5));
  CHECK(coat->start.simulated);
  CHECK(coat->uid.size() == 32);
  const auto expected = train_of(3);
  CHECK(coat->pulses.ticks == expected.ticks);
  CHECK(coat->pulses.marks == expected.marks);
  REQUIRE(coat->samples.size() == 150);
  CHECK(coat->samples[51].at.s() == Approx(1.02));
  CHECK(coat->samples[51].speed.rpm() == Approx(2000.051));
  CHECK(coat->samples[51].command == Approx(0.125));
  CHECK(coat->samples[51].segment == 1);
  REQUIRE(coat->events.size() == 3);
  CHECK(coat->events[2].text == "second 2");
  REQUIRE(coat->end);
  CHECK(coat->end->outcome == "completed");
  CHECK(coat->end->summary == an_end().summary);
  CHECK(coat->end->length.s() == Approx(56.5));
}

TEST_CASE(
    "notebook: a coat is running while its writer lives, broken off when it dies unfinished") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  auto notebook = Notebook::open(path);
  REQUIRE(notebook.ok());
  std::int64_t number = 0;
  {
    auto writer = notebook->begin_coat(a_start());
    REQUIRE(writer.ok());
    number = writer->number();
    REQUIRE(write_second(*writer, 0).ok());
    auto reader = Notebook::open_existing(path);
    REQUIRE(reader.ok());
    CHECK(reader->log()->front().state == CoatState::running);
    CHECK(reader->coat(number)->state == CoatState::running);
  }
  CHECK(notebook->log()->front().state == CoatState::broken_off);
  const auto coat = notebook->coat(number);
  REQUIRE(coat.ok());
  CHECK(coat->state == CoatState::broken_off);
  CHECK_FALSE(coat->end);
  CHECK(coat->pulses.ticks == train_of(1).ticks);
}

TEST_CASE("notebook: half a second is on disk while the run goes on, an event at once") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer.ok());
  const std::vector<std::int64_t> ticks{100, 200, 300};
  REQUIRE(writer->pulses(ticks, {}, 0, seconds(0.1)).ok());
  CHECK(notebook->coat(writer->number())->pulses.ticks.empty());
  REQUIRE(writer->sample({.at = seconds(0.61)}, seconds(0.61)).ok());
  CHECK(notebook->coat(writer->number())->pulses.ticks == ticks);
  REQUIRE(writer->event({seconds(0.62), "lid"}, seconds(0.62)).ok());
  CHECK(notebook->coat(writer->number())->events.size() == 1);
}

TEST_CASE("notebook: pulses that were lost are kept as gaps, and marks may begin late") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  const std::vector<std::int64_t> first{10, 20};
  const std::vector<std::int64_t> second{90, 100, 110};
  const std::vector<std::int16_t> marks{-1, 0, 1};
  REQUIRE(writer->pulses(first, {}, 0, seconds(1)).ok()); // a commit each
  REQUIRE(writer->pulses(second, marks, 6, seconds(2)).ok());
  REQUIRE(writer->pulses({}, {}, 4, seconds(3)).ok());
  REQUIRE(writer->finish(an_end(), seconds(4)).ok());
  const auto coat = notebook->coat(writer->number());
  REQUIRE(coat.ok());
  CHECK(coat->pulses.ticks == std::vector<std::int64_t>{10, 20, 90, 100, 110});
  CHECK(coat->pulses.marks == std::vector<std::int16_t>{-1, -1, -1, 0, 1});
  CHECK(coat->gaps == std::vector<Gap>{{2, 6}, {5, 4}});
}

TEST_CASE("notebook: the log is newest first and can be filtered") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  CoatStart start = a_start();
  write_coat(*notebook, 0, true, start);
  start.started.unix_ms += 86'400'000;
  start.resist = "Grey 40";
  start.board = "gauge 8";
  write_coat(*notebook, 0, true, start);
  start.board = "50%_board";
  write_coat(*notebook, 0, false, start);
  const auto numbers = [&](const Filter& filter) {
    std::vector<std::int64_t> found;
    const auto lines = notebook->log(filter);
    for (const CoatLine& line : *lines)
      found.push_back(line.number);
    return found;
  };
  using Numbers = std::vector<std::int64_t>;
  CHECK(numbers({}) == Numbers{3, 2, 1});
  CHECK(numbers({.most = 2}) == Numbers{3, 2});
  CHECK(numbers({.resist = "grey"}) == Numbers{3, 2});
  CHECK(numbers({.board = "%"}) == Numbers{3}); // a sign, not a pattern
  CHECK(numbers({.board = "gauge"}) == Numbers{2, 1});
  CHECK(numbers({.verdict = "even"}) == Numbers{2, 1});
  CHECK(numbers({.from = start.started}) == Numbers{3, 2});
  CHECK(numbers({.until = start.started}) == Numbers{1});
  CHECK(numbers({.resist = "none such"}).empty());
  CHECK(*notebook->newest() == 3);
  CHECK(notebook->log()->front().state == CoatState::broken_off);
}

TEST_CASE("notebook: of many coats, those that are being written run, the others broke off") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  std::vector<std::optional<CoatWriter>> writers;
  for (int i = 0; i < 12; ++i) {
    auto writer = notebook->begin_coat(a_start());
    writers.emplace_back(std::move(*writer));
  }
  for (const std::size_t given_up : {11U, 8U, 7U, 2U}) // in no order, and neighbours too
    writers[given_up].reset();
  const std::vector<std::int64_t> broken{3, 8, 9, 12};
  const auto lines = notebook->log();
  REQUIRE(lines->size() == writers.size());
  for (const CoatLine& line : *lines) {
    CAPTURE(line.number);
    const bool is_broken = std::count(broken.begin(), broken.end(), line.number) > 0;
    CHECK(line.state == (is_broken ? CoatState::broken_off : CoatState::running));
  }
}

TEST_CASE("notebook: a writer that has ended, and a number that is not there, are refused") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  CHECK_FALSE(notebook->newest().ok());
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer->finish(an_end(), seconds(1)).ok());
  CHECK_FALSE(writer->event({}, seconds(2)).ok());
  const auto missing = notebook->coat(77);
  REQUIRE_FALSE(missing.ok());
  CHECK_THAT(missing.fault().what, ContainsSubstring("77"));
}

TEST_CASE("notebook: the same file's text is stored once") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  auto notebook = Notebook::open(path);
  for (int i = 0; i < 5; ++i)
    write_coat(*notebook, 0, true);
  CHECK(sql_number(path, "SELECT count(*) FROM files") == 2);
  CHECK(sql_number(path, "SELECT count(*) FROM coat_files") == 10);
}

TEST_CASE("notebook: what is no notebook, or a newer one, is refused and left as it was") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  SECTION("a text") {
    std::ofstream(path) << std::string(4000, 'x');
    const auto opened = Notebook::open(path);
    REQUIRE_FALSE(opened.ok());
    CHECK(opened.fault().kind == FaultKind::input);
    CHECK_THAT(opened.fault().what, ContainsSubstring("not a notebook"));
  }
  SECTION("another program's tables") {
    sql(path, "CREATE TABLE stamps (album TEXT)");
    CHECK_THAT(Notebook::open(path).fault().what, ContainsSubstring("not a notebook"));
    CHECK(sql_number(path, "SELECT count(*) FROM sqlite_master") == 1);
  }
  SECTION("a newer schema") {
    { REQUIRE(Notebook::open(path).ok()); }
    sql(path, "PRAGMA user_version = 999");
    const auto opened = Notebook::open(path);
    REQUIRE_FALSE(opened.ok());
    CHECK_THAT(opened.fault().what, ContainsSubstring("newer"));
    CHECK_THAT(opened.fault().what, ContainsSubstring("999"));
    CHECK(sql_number(path, "PRAGMA user_version") == 999);
  }
  SECTION("a folder") { CHECK_FALSE(Notebook::open(folder.file("")).ok()); }
  SECTION("nothing, where one must be") {
    CHECK_FALSE(Notebook::open_existing(path).ok());
    CHECK_FALSE(std::filesystem::exists(path));
  }
}

TEST_CASE("notebook: a damaged chunk is a fault, never a wrong coat or a crash") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  auto notebook = Notebook::open(path);
  const auto number = write_coat(*notebook, 1, true);
  sql(path, "UPDATE pulse_chunks SET data = substr(data, 1, length(data) - 1) WHERE seq = "
            "(SELECT max(seq) FROM pulse_chunks)");
  const auto coat = notebook->coat(number);
  REQUIRE_FALSE(coat.ok());
  CHECK_THAT(coat.fault().what, ContainsSubstring("damaged"));
}

TEST_CASE("notebook: writes go through a synced write-ahead log") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  auto notebook = Notebook::open(path);
  REQUIRE(notebook.ok());
  CHECK(sql_text(path, "PRAGMA journal_mode") == "wal");
}

TEST_CASE("notebook: the default place follows the XDG rules") {
  const auto with = [](const char* data, const char* home) {
    data != nullptr ? setenv("XDG_DATA_HOME", data, 1) : unsetenv("XDG_DATA_HOME");
    home != nullptr ? setenv("HOME", home, 1) : unsetenv("HOME");
    const auto path = default_path();
    return path ? *path : "fault";
  };
  const char* had = std::getenv("HOME");
  const std::string home = had == nullptr ? "/" : had;
  CHECK(with("/data", "/someone") == "/data/whirler/notebook.db");
  CHECK(with(nullptr, "/someone") == "/someone/.local/share/whirler/notebook.db");
  CHECK(with("", "/someone") == "/someone/.local/share/whirler/notebook.db");
  CHECK(with("relative", "/someone") == "/someone/.local/share/whirler/notebook.db");
  CHECK(with(nullptr, nullptr) == "fault");
  with(nullptr, home.c_str());
}

TEST_CASE("notebook: folders are made for the default place alone, not for a name that was typed") {
  const Folder folder;
  const auto typed = Notebook::open(folder.file("new/deeper/n.db"));
  REQUIRE_FALSE(typed.ok());
  CHECK_THAT(typed.fault().what, ContainsSubstring("folder is not there"));
  CHECK_FALSE(std::filesystem::exists(folder.file("new")));
  setenv("XDG_DATA_HOME", folder.file("data").c_str(), 1);
  CHECK(Notebook::open_default().ok());
  CHECK(std::filesystem::exists(folder.file("data/whirler/notebook.db")));
  unsetenv("XDG_DATA_HOME");
}

TEST_CASE("instant: text and back, and what is no instant") {
  CHECK(instant_text({0}) == "1970-01-01T00:00:00.000Z");
  CHECK(instant_text({1709217000250}) == "2024-02-29T14:30:00.250Z");
  CHECK(instant_from_text("2024-02-29T14:30:00.250Z") == Instant{1709217000250});
  CHECK(instant_from_text("2024-02-29T14:30:00Z") == Instant{1709217000000});
  for (const char* text :
       {"", "2023-02-29T00:00:00Z", "2024-02-29", "2024-02-29T25:00:00Z", "2024-02-29T14:30:00",
        "2024-02-29T14:30:00.250Zx", "2024-2-29T14:30:00Z"}) {
    CAPTURE(text);
    CHECK_FALSE(instant_from_text(text));
  }
}
