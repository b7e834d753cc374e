// log, show, export and import on a notebook with a few made-up coats.
#include "catch.hpp"
#include "notebook/notebook_scene.hpp"
#include "run_program.hpp"
#include "whirler/notebook/coat_text.hpp"
#include "whirler/units/letters.hpp"

#include <sstream>

#include <chrono>
#include <sstream>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;
using whirler::seconds;

namespace {

namespace nb = whirler::notebook;

/// Three coats: one whole, one of another board and day, one broken off.
void fill(const std::string& path) {
  auto notebook = nb::Notebook::open(path);
  REQUIRE(notebook.ok());
  nb::CoatStart start = a_start();
  for (int i = 0; i < 3; ++i) {
    auto writer = notebook->begin_coat(start);
    REQUIRE(write_second(*writer, 0).ok());
    if (i < 2)
      REQUIRE(writer->finish(an_end(), seconds(1)).ok());
    start.started.unix_ms += 3 * 86'400'000LL;
    start.board = "vane, \"left\"";
  }
}

std::string with_notebook(const TestFolder& folder, const std::string& words) {
  return words + " --notebook " + folder.path("n.db");
}

} // namespace

TEST_CASE("log: a table for people, JSON and CSV for programs, newest first") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  const auto text = run_program(with_notebook(folder, "log"));
  CHECK(text.status == 0);
  CHECK_THAT(text.out, ContainsSubstring("broken off"));
  CHECK_THAT(text.out, ContainsSubstring("gauge 7"));
  const auto coats = run_program(with_notebook(folder, "log --json")).json()["coats"];
  REQUIRE(coats.size() == 3);
  CHECK(coats[0]["coat"] == 3);
  CHECK(coats[0]["state"] == "broken_off");
  CHECK(coats[2]["outcome"] == "completed");
  CHECK(coats[2]["verdict"] == "even");
  CHECK(coats[2]["started"] == "2024-02-29T14:30:00.250Z");
  const auto csv = run_program(with_notebook(folder, "log --csv"));
  CHECK_THAT(csv.out, ContainsSubstring("coat,started,board,"));
  CHECK_THAT(csv.out, ContainsSubstring("3,2024-03-06T14:30:00.250Z,\"vane, \"\"left\"\"\",top,"));
}

TEST_CASE("log: a coated plate's line says how long it has been lying, as show does") {
  using std::chrono::hours;
  using std::chrono::minutes;
  const TestFolder folder;
  {
    auto book = nb::Notebook::open(folder.path("n.db"));
    const auto add = [&](std::chrono::minutes age, const char* resist, bool simulated) {
      nb::CoatStart start = a_start();
      const auto then = std::chrono::system_clock::now() - age;
      start.started = {std::chrono::floor<std::chrono::milliseconds>(then).time_since_epoch() /
                       std::chrono::milliseconds(1)};
      start.resist = resist;
      start.simulated = simulated;
      REQUIRE(book->begin_coat(start)->finish(an_end(), seconds(1)).ok());
    };
    add(hours(53) + minutes(30), "Amber 25", false); // 1
    add(hours(50), "Amber 25", false);               // 2: washed off
    add(hours(9), "", false);                        // 3: no resist
    add(hours(8), "Amber 25", true);                 // 4: a simulation coats nothing
    add(minutes(200) + minutes(0), "Amber 25", false);
    add(hours(-2), "Amber 25", false); // 6: the clock was put back since
    REQUIRE(book->add_note({.kind = "washed off", .coat = 2, .document = "{}"}).ok());
  }
  const auto coats = run_program(with_notebook(folder, "log --json")).json()["coats"];
  REQUIRE(coats.size() == 6);
  CHECK(coats[5]["lying_s"].get<double>() == Approx(53.5 * 3600).margin(59));
  CHECK(coats[1]["lying_s"].get<double>() == Approx(200 * 60).margin(59));
  CHECK(coats[0]["lying_s"] == 0.0);
  for (const int line : {2, 3, 4})
    CHECK(coats[line]["lying_s"].is_null());
  CHECK(coats[4]["fate"] == "washed off");
  CHECK(coats[5]["fate"].is_null());
  for (int coat = 1; coat <= 6; ++coat) {
    const auto shown =
        run_program(with_notebook(folder, "show --json " + std::to_string(coat))).json()["lying_s"];
    const auto logged = coats[6 - coat]["lying_s"];
    CHECK(shown.is_null() == logged.is_null());
    if (!logged.is_null())
      CHECK(shown.get<double>() == Approx(logged.get<double>()).margin(59));
  }
  std::istringstream table(run_program(with_notebook(folder, "log")).out);
  std::vector<std::string> rows;
  for (std::string line; std::getline(table, line);)
    rows.push_back(line);
  REQUIRE(rows.size() == 7);
  const std::size_t column = rows[0].find("lying");
  REQUIRE(column != std::string::npos);
  CHECK_THAT(rows[6].substr(column), Catch::Matchers::StartsWith("2 d 5 h"));
  CHECK_THAT(rows[5].substr(column), Catch::Matchers::StartsWith("  ")); // washed off
  CHECK_THAT(rows[2].substr(column), Catch::Matchers::StartsWith("3 h 20 min"));
  const auto csv = run_program(with_notebook(folder, "log --csv")).out;
  CHECK_THAT(csv, ContainsSubstring(",measured_um,fate,lying_s\n"));
  CHECK_THAT(csv, ContainsSubstring(",washed off,\n"));
}

TEST_CASE("log: filters by name, verdict, day and number") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  const auto count = [&](const std::string& words) {
    const auto said = run_program(with_notebook(folder, "log --json " + words));
    CHECK(said.status == 0);
    return said.json()["coats"].size();
  };
  CHECK(count("--board GAUGE") == 1);
  CHECK(count("--resist amber") == 3);
  CHECK(count("--resist grey") == 0);
  CHECK(count("--verdict even") == 2);
  CHECK(count("--since 2024-03-02") == 2);
  CHECK(count("--before 2024-03-02") == 1);
  CHECK(count("--since '2024-03-01 00:00' --before 2024-03-05T23:59") == 1);
  CHECK(count("--last 2") == 2);
  for (const char* bad : {"--since 2024-02-30", "--since yesterday", "--last 0", "--verdict good",
                          "--before 2024-3-1", "--since 2024-03-01T25:00"}) {
    CAPTURE(bad);
    CHECK(run_program(with_notebook(folder, std::string("log ") + bad)).status == 2);
  }
}

TEST_CASE("log: a count that is none is said in words that a person reads") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  for (const char* bad : {"log --last 0", "log --last many", "report 0", "report -- -4"}) {
    CAPTURE(bad);
    const auto said = run_program(with_notebook(folder, bad));
    CHECK(said.status == 2);
    CHECK_THAT(said.err, ContainsSubstring("is not a whole number from 1 on"));
  }
}

TEST_CASE("log: a table's columns stand under each other, whatever the names hold") {
  const TestFolder folder;
  {
    auto book = nb::Notebook::open(folder.path("n.db"));
    for (const char* board : {"vane", "b\xC3\xB6 rd", "two\nlines", ""}) {
      nb::CoatStart start;
      start.board = board;
      start.side = "top";
      REQUIRE(book->begin_coat(start)->finish({"completed", "", "even", "", {}}, {}).ok());
    }
  }
  std::istringstream lines(run_program(with_notebook(folder, "log")).out);
  std::vector<std::string> rows;
  for (std::string line; std::getline(lines, line);)
    rows.push_back(line);
  REQUIRE(rows.size() == 5); // a board of two lines is shown on one
  const std::size_t column = rows[0].find("side");
  CHECK(rows[1].substr(column, 3) == "top"); // no board at all
  CHECK(rows[2].substr(column, 3) == "top");
  CHECK(rows[3].substr(column + 1, 3) == "top"); // o umlaut is two bytes wide, and one column
  CHECK(rows[4].substr(column, 3) == "top");
  for (const std::string& row : rows)
    CHECK(row.back() != ' ');
}

TEST_CASE("log: a new user's log is empty, a named notebook that is missing is a fault") {
  const TestFolder folder;
  setenv("XDG_DATA_HOME", folder.path("data").c_str(), 1);
  unsetenv("WHIRLER_NOTEBOOK");
  const auto fresh = run_program("log --json");
  const auto show = run_program("show");
  unsetenv("XDG_DATA_HOME");
  CHECK(fresh.status == 0);
  CHECK(fresh.json()["coats"].empty());
  CHECK(show.status == 3);
  CHECK_FALSE(std::filesystem::exists(folder.path("data"))); // looking makes nothing
  CHECK(run_program("log --notebook " + folder.path("none.db")).status == 3);
  CHECK(run_program("log --notebook " + folder.write("x.db", "no notebook at all")).status == 3);
}

TEST_CASE("show: a coat's plan, speed, events and end") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  const auto text = run_program(with_notebook(folder, "show 1"));
  CHECK(text.status == 0);
  for (const char* part : {"completed", "gauge 7", "Amber 25", "2000 rpm", "second 0",
                           "solvent burns", "profile thin.json", "####"})
    CHECK_THAT(text.out, ContainsSubstring(part));
  const auto json = run_program(with_notebook(folder, "show 1 --json")).json();
  CHECK(json["pulses"] == 200);
  CHECK(json["end"]["summary"]["peak_error_rpm"] == 3.5);
  CHECK(json["events"][0]["text"] == "second 0");
  const auto newest = run_program(with_notebook(folder, "show --json")).json();
  CHECK(newest["coat"] == 3);
  CHECK(newest["end"].is_null());
  CHECK(newest["state"] == "broken_off");
  CHECK(run_program(with_notebook(folder, "show 99")).status == 3);
}

TEST_CASE("show: a file comes back as it was that day") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  const auto said = run_program(with_notebook(folder, "show 1 --file machine"));
  CHECK(said.out == a_start().files[1].text);
  const auto none = run_program(with_notebook(folder, "show 1 --file resist"));
  CHECK(none.status == 3);
  CHECK_THAT(none.err, ContainsSubstring("profile thin.json"));
}

TEST_CASE("log: names are found in any case of any script, and wide ones keep the columns") {
  const TestFolder folder;
  auto notebook = nb::Notebook::open(folder.path("n.db"));
  REQUIRE(notebook.ok());
  for (const auto* board : {"Ärmel", "部品面", "Δελτα", "plain"}) {
    nb::CoatStart start = a_start();
    start.board = board;
    start.resist = "Heidelbeer";
    REQUIRE(notebook->begin_coat(start)->finish({"completed", "", "even", "", {}}, {}).ok());
  }
  const auto found = [&](const std::string& words) {
    return run_program(with_notebook(folder, "log --json " + words)).json()["coats"].size();
  };
  CHECK(found("--board ärmel") == 1);
  CHECK(found("--board ÄRM") == 1);
  CHECK(found("--board ΔΕΛ") == 1);
  CHECK(found("--board 部品") == 1);
  CHECK(found("--board armel") == 0);
  CHECK(found("--resist HEIDEL") == 4);
  const std::string table = run_program(with_notebook(folder, "log")).out;
  std::vector<std::size_t> sides; // where the column after the boards begins
  std::istringstream lines(table);
  for (std::string line; std::getline(lines, line);)
    if (const auto at = line.find(" top"); at != std::string::npos)
      sides.push_back(whirler::columns(std::string_view(line).substr(0, at)));
  CHECK(sides == std::vector<std::size_t>(4, sides.empty() ? 0 : sides.front()));
}

TEST_CASE("export and import: into another notebook and out again, the same bytes") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  const std::string a = folder.path("a");
  const std::string b = folder.path("b");
  const std::string other = " --notebook " + folder.path("other.db");
  REQUIRE(run_program(with_notebook(folder, "export 3 --output " + a)).status == 0);
  const auto in = run_program("import --json " + a + "/coat.json" + other);
  REQUIRE(in.status == 0);
  CHECK(in.json()["coat"] == 1);
  REQUIRE(run_program("export 1 --output " + b + other).status == 0);
  for (const char* name : {"/coat.json", "/pulses.csv", "/samples.csv"}) {
    const std::string text = folder.read(std::string("a") + name);
    CHECK(text.size() > 30);
    CHECK(text == folder.read(std::string("b") + name));
  }
  const auto twice = run_program("import " + a + other);
  CHECK(twice.status == 3);
  CHECK_THAT(twice.err, ContainsSubstring("already"));
  CHECK(run_program(with_notebook(folder, "export 3 --output " + a)).status == 3); // not empty
  CHECK(run_program(with_notebook(folder, "export 44 --output " + folder.path("c"))).status == 3);
}

TEST_CASE("export: a coat that still runs is refused and nothing is written; ended, it is not") {
  const TestFolder folder;
  const std::string words = with_notebook(folder, "export 1 --output " + folder.path("a"));
  auto notebook = nb::Notebook::open(folder.path("n.db"));
  REQUIRE(notebook.ok());
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(write_second(*writer, 0).ok());
  const auto early = run_program(words);
  CHECK(early.status == 3);
  CHECK_THAT(early.err, ContainsSubstring("still running"));
  CHECK_FALSE(std::filesystem::exists(folder.path("a")));
  REQUIRE(writer->finish(an_end(), seconds(1)).ok());
  CHECK(run_program(words).status == 0);
}

TEST_CASE("import: a coat that was exported before its end is completed by the whole one") {
  const TestFolder folder;
  const std::string other = " --notebook " + folder.path("other.db");
  auto notebook = nb::Notebook::open(folder.path("n.db"));
  REQUIRE(notebook.ok());
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(write_second(*writer, 0).ok());
  const auto torso = nb::texts_of(*notebook->coat(1)); // as earlier programs exported it
  for (const auto& [name, text] :
       {std::pair{"/coat.json", torso.coat}, std::pair{"/pulses.csv", torso.pulses},
        std::pair{"/samples.csv", torso.samples}}) {
    std::filesystem::create_directory(folder.path("torso"));
    folder.write(std::string("torso") + name, text);
  }
  REQUIRE(run_program("import " + folder.path("torso") + other).status == 0);
  REQUIRE(write_second(*writer, 1).ok());
  REQUIRE(writer->finish(an_end(), seconds(2)).ok());
  REQUIRE(run_program(with_notebook(folder, "export 1 --output " + folder.path("a"))).status == 0);
  const auto whole = run_program("import --json " + folder.path("a") + other);
  CAPTURE(whole.err);
  REQUIRE(whole.status == 0);
  CHECK(whole.json()["coat"] == 1);
  CHECK(whole.json()["completed"] == true);
  REQUIRE(run_program("export 1 --output " + folder.path("b") + other).status == 0);
  for (const char* name : {"/coat.json", "/pulses.csv", "/samples.csv"})
    CHECK(folder.read(std::string("a") + name) == folder.read(std::string("b") + name));
  const auto older = run_program("import " + folder.path("torso") + other);
  CHECK(older.status == 3); // the whole one stays
  CHECK_THAT(older.err, ContainsSubstring("already"));
  CHECK(run_program("log --json" + other).json()["coats"].size() == 1);
}

TEST_CASE("import: mistakes in the files are named with line and column") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  REQUIRE(run_program(with_notebook(folder, "export 1 --output " + folder.path("a"))).status == 0);
  folder.write("a/pulses.csv", "ticks,mark\n1,0\nx,1\n");
  const auto said =
      run_program("import --json " + folder.path("a") + " --notebook " + folder.path("o.db"));
  CHECK(said.status == 3);
  CHECK(said.json()["faults"][0]["line"] == 3);
  CHECK(run_program("import " + folder.path("nowhere")).status == 3);
}

TEST_CASE("import: a folder that is damaged anywhere is refused by name, and nothing is changed") {
  const TestFolder folder;
  fill(folder.path("n.db"));
  fill(folder.path("o.db"));
  REQUIRE(run_program(with_notebook(folder, "export 1 --output " + folder.path("a"))).status == 0);
  const std::string before = run_program("log --json --notebook " + folder.path("o.db")).out;
  const auto refused = [&] {
    const auto said =
        run_program("import --json " + folder.path("a") + " --notebook " + folder.path("o.db"));
    CAPTURE(said.err);
    CHECK(said.status == 3);
    CHECK_FALSE(said.json()["fault"]["what"].get<std::string>().empty());
    CHECK(said.err.find(folder.path("a")) != std::string::npos);
  };
  for (const std::string name : {"a/coat.json", "a/pulses.csv", "a/samples.csv"}) {
    CAPTURE(name);
    const std::string whole = folder.read(name);
    for (const std::size_t cut : {std::size_t{0}, whole.size() / 3, whole.size() / 2}) {
      CAPTURE(cut);
      // Up to the end of a line, where a table that was cut short looks whole.
      folder.write(name, whole.substr(0, cut == 0 ? 0 : whole.find('\n', cut) + 1));
      refused();
    }
    std::filesystem::remove(folder.path(name));
    refused();
    folder.write(name, whole);
  }
  CHECK(run_program("log --json --notebook " + folder.path("o.db")).out == before);
  CHECK(run_program("import " + folder.path("a") + " --notebook " + folder.path("o.db")).status ==
        0);
}
