// A notebook of every earlier schema opens, keeps all that was in it, and can be written to.
#include "catch.hpp"
#include "notebook_scene.hpp"
#include "whirler/notebook/coat_text.hpp"

#include <fstream>
#include <iterator>

using namespace whirler;
using namespace whirler::notebook;

namespace {

const std::optional<Length> none;

constexpr int kEarlier = 3; ///< schemas before today's

/// schema_<n>.sql was dumped from a notebook that a program of that schema wrote: coat 1 finished,
/// coat 2 broken off; from schema 2 on, coat 1 with two notes of its thickness; from schema 3 on,
/// with two of its fate.
std::string old_notebook(const Folder& folder, int schema) {
  std::ifstream file(std::string(WHIRLER_SOURCE_DIR) + "/tests/notebook/schema_" +
                     std::to_string(schema) + ".sql");
  const std::string dump{std::istreambuf_iterator<char>(file), {}};
  REQUIRE(dump.size() > 1000);
  const std::string path = folder.file("old.db");
  sql(path, dump);
  REQUIRE(sql_number(path, "PRAGMA user_version") == schema);
  return path;
}

} // namespace

TEST_CASE("notebook: an older schema is brought forward with all that was in it") {
  const int schema = GENERATE(range(1, kEarlier + 1));
  const Folder folder;
  const std::string path = old_notebook(folder, schema);
  auto notebook = Notebook::open_existing(path);
  REQUIRE(notebook.ok());
  CHECK(sql_number(path, "PRAGMA user_version") > schema);
  const auto coat = notebook->coat(1);
  REQUIRE(coat.ok());
  CHECK(coat->start.board == "gauge 3");
  CHECK(coat->start.files.at(0).text == "{\"kind\":\"profile\"} // \xC3\xBC\n");
  REQUIRE(coat->pulses.size() == 12);
  CHECK(coat->pulses.ticks[11] == 1000 + 11 * 6667 + 5 * 9);
  CHECK(coat->pulses.marks[11] == 5);
  CHECK(coat->gaps == std::vector<Gap>{{12, 7}});
  REQUIRE(coat->samples.size() == 3);
  CHECK(coat->samples[2].speed == rpm(502));
  CHECK(coat->events.at(0).text == "ramping");
  CHECK(coat->end->cause == "the lid was opened");
  CHECK(notebook->coat(2)->state == CoatState::broken_off);
  CHECK(notebook->coat(2)->pulses.size() == 12);
  CHECK(notebook->notes()->size() == (schema == 1 ? 0 : schema == 2 ? 2 : 4));
  CHECK(notebook->log()->at(1).fate ==
        (schema == 3 ? "poured over" : "")); // the last that was said
  CHECK(notebook->log()->at(0).fate.empty());
  CHECK(notebook->log()->at(1).measured == (schema == 1 ? none : micrometres(1.58)));
  CHECK(notebook->log()->at(1).wanted == (schema == 1 ? none : micrometres(1.6)));
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer.ok());
  CHECK(writer->number() == 3);
  CHECK(notebook->add_note({.kind = "weighing", .coat = 1}).ok());
}

TEST_CASE("notebook: every earlier schema has its notebook among these tests") {
  const Folder folder;
  REQUIRE(Notebook::open(folder.file("n.db")).ok());
  const auto newest = sql_number(folder.file("n.db"), "PRAGMA user_version");
  CHECK(newest == kEarlier + 1);
}

TEST_CASE("notebook: a migration that is broken off leaves the older notebook as it was") {
  const Folder folder;
  const std::string path = old_notebook(folder, 1);
  sql(path, "CREATE TABLE notes (in_the_way TEXT)"); // the step cannot be made
  REQUIRE_FALSE(Notebook::open(path).ok());
  CHECK(sql_number(path, "PRAGMA user_version") == 1);
  CHECK(sql_number(path, "SELECT count(*) FROM coats") == 2);
  sql(path, "DROP TABLE notes");
  CHECK(Notebook::open(path)->coat(1).ok());
}

TEST_CASE("notebook: notes are kept, found by what they are about, and travel with their coat") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer->finish(an_end(), seconds(1)).ok());
  const Note weighing{{1709217000000}, "weighing", "gauge 7", 1, "Amber 25", R"({"mass_g":23.68})"};
  const Note calibration{{1709217001000}, "calibration", "", std::nullopt, "Amber 25", "{}"};
  REQUIRE(notebook->add_note(weighing).ok());
  REQUIRE(notebook->add_note(calibration).ok());
  CHECK(*notebook->notes() == std::vector<Note>{weighing, calibration});
  CHECK(*notebook->notes({.kind = "calibration"}) == std::vector<Note>{calibration});
  CHECK(*notebook->notes({.board = "gauge 7"}) == std::vector<Note>{weighing});
  CHECK(notebook->notes({.resist = "Amber 25"})->size() == 2);
  CHECK(*notebook->notes({.coat = 1}) == std::vector<Note>{weighing});
  CHECK(notebook->notes({.coat = 2})->empty());
  const Outcome stray = notebook->add_note({.kind = "weighing", .coat = 9});
  REQUIRE_FALSE(stray.ok());
  CHECK(stray.fault().kind == FaultKind::input);

  auto other = Notebook::open(folder.file("other.db"));
  auto first = other->begin_coat(a_start()); // so that the numbers differ
  REQUIRE(first.ok());
  const CoatTexts texts = texts_of(*notebook->coat(1));
  const auto number = other->add(*coat_of(texts, "f"));
  REQUIRE(number.ok());
  CHECK(*number == 2);
  REQUIRE(other->notes({.coat = 2})->size() == 1);
  CHECK(other->notes({.coat = 2})->front().document == weighing.document);
  CHECK(texts_of(*other->coat(2)).coat == texts.coat);
}

TEST_CASE("notebook: the log has the film that a coat's last notes speak of") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  for (int i = 0; i < 2; ++i)
    REQUIRE(notebook->begin_coat(a_start())->finish(an_end(), seconds(1)).ok());
  const auto add = [&](const char* kind, std::optional<std::int64_t> coat, const char* document) {
    REQUIRE(notebook->add_note({.kind = kind, .coat = coat, .document = document}).ok());
  };
  const auto line = [&](std::int64_t coat) {
    return notebook->log()->at(static_cast<std::size_t>(2 - coat)); // the newest first
  };
  CHECK_FALSE(line(1).measured);
  add("thickness", 2, R"({"measured_um":1.5})");
  add("thickness", 1, R"({"wanted_um":2,"measured_um":3})");
  CHECK(line(1).wanted == micrometres(2.0));
  CHECK(line(1).measured == micrometres(3.0));
  CHECK(line(2).measured == micrometres(1.5));
  CHECK_FALSE(line(2).wanted);

  SECTION("and what says no thickness takes no other's place") {
    for (const char* document :
         {R"({"measured_um":"thin"})", "measured_um, but no JSON", R"(["measured_um"])", "",
          R"({"measured_um":null})", R"({"measured_um":0})", R"({"measured_um":-2})",
          R"({"measured_um":1e999})", R"({"measured_um":true})", R"({"film":{"measured_um":7}})"})
      add("thickness", 1, document);
    add("thickness", std::nullopt, R"({"measured_um":9})");
    add("remark", 1, R"({"measured_um":8})");
    CHECK(line(1).measured == micrometres(3.0));
    CHECK(line(1).wanted == micrometres(2.0));
  }
  SECTION("and a later note takes an earlier one's, key by key") {
    add("thickness", 1, R"({"measured_um":1.25e0})");
    CHECK(line(1).measured == micrometres(1.25));
    CHECK(line(1).wanted == micrometres(2.0));
    CHECK(line(2).measured == micrometres(1.5));
  }
  SECTION("and a coat that is brought from elsewhere brings its own") {
    auto other = Notebook::open(folder.file("other.db"));
    REQUIRE(other->add(*notebook->coat(1)).ok());
    CHECK(other->log()->at(0).measured == micrometres(3.0));
  }
}

TEST_CASE("notebook: the log has what the last note says became of a coat's film, and no other's") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("n.db"));
  for (int i = 0; i < 2; ++i)
    REQUIRE(notebook->begin_coat(a_start())->finish(an_end(), seconds(1)).ok());
  for (const char* kind : {"poured over", "washed off", "side cancelled", "poured over"}) {
    REQUIRE(notebook->add_note({.kind = kind, .coat = 1, .document = "{}"}).ok());
    CHECK(notebook->log()->at(1).fate == kind);
  }
  REQUIRE(notebook->add_note({.kind = "remark", .coat = 1, .document = "{}"}).ok());
  REQUIRE(notebook->add_note({.kind = "washed off", .document = "{}"}).ok()); // of no coat
  CHECK(notebook->log()->at(1).fate == "poured over");
  CHECK(notebook->log()->at(0).fate.empty());
  auto other = Notebook::open(folder.file("other.db"));
  REQUIRE(other->add(*notebook->coat(1)).ok());
  CHECK(other->log()->at(0).fate == "poured over");
}
