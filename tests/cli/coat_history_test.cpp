// What the notebook knows of a board afterwards: pours over each other, washings, weighings, runs
// that died.
#include "board_bench.hpp"
#include "terminal.hpp"
#include "whirler/units/text.hpp"

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

std::string um(const nlohmann::json& value) {
  return number_text(value.get<double>()) + " \u00B5m";
}

/// A page without the coat's number, which is the notebook's own.
std::string unnumbered(std::string page) {
  for (auto at = page.find("Coat "); at != std::string::npos; at = page.find("Coat ", at + 1))
    page.erase(at + 5, page.find_first_not_of("0123456789", at + 5) - at - 5);
  return page;
}

std::string page_of(const Bench& bench, int coat) {
  const auto said = bench.ask("report " + std::to_string(coat) + " --output -");
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  return said.out;
}

nlohmann::json shown(const Bench& bench, int coat) {
  return bench.ask("show " + std::to_string(coat) + " --json").json();
}

nlohmann::json trend(const Bench& bench) {
  return bench.ask("report --trend --json --output " + bench.folder.path("t.html")).json();
}

} // namespace

TEST_CASE("coat: the page of a side poured again shows the film as all of its pours left it") {
  const Bench bench;
  const auto said =
      run_program(bench.words() + " --yes --no-weighing --cancel shade --recoat sun --recoat sun");
  REQUIRE(said.status == 0);
  const auto side = said.json()["sides"][0];
  REQUIRE(side["runs"].size() == 3);
  const std::string page = page_of(bench, 3);
  const auto& film = side["film"];
  CHECK_THAT(page, ContainsSubstring("<b>\u2714 set</b>"));
  CHECK_THAT(page,
             ContainsSubstring(um(film["thickness_um"]) + " dry, " + um(film["interval_um"][0]) +
                               " to " + um(film["interval_um"][1]) + " (95 %)"));
  CHECK_THAT(page, ContainsSubstring("It is pour 3 on this side"));
  CHECK_THAT(page, ContainsSubstring("Pours on this side"));
  for (const auto& run : side["runs"]) // each spin alone, in the table
    CHECK_THAT(page, ContainsSubstring("<td>" + um(run["film"]["interval_um"][0]) + " to " +
                                       um(run["film"]["interval_um"][1]) + "</td>"));
  // Each film that had set counts in the bound, not only the last.
  const double own_high = side["runs"][2]["film"]["interval_um"][1];
  const double first = side["runs"][0]["film"]["thickness_um"];
  const double second = side["runs"][1]["film"]["thickness_um"];
  CHECK(film["interval_um"][1].get<double>() == Approx(own_high + first + second));
  CHECK_THAT(page_of(bench, 1), ContainsSubstring("poured over"));
  CHECK(shown(bench, 1)["fate"] == "poured over");
  CHECK(shown(bench, 3)["fate"].is_null());
}

TEST_CASE("exact: the page of a second pour needs no other coat, in another notebook too") {
  const Bench bench;
  REQUIRE(run_program(bench.words() + " --yes --no-weighing --cancel shade --recoat sun").status ==
          0);
  REQUIRE(bench.ask("export 2 --output " + bench.folder.path("out")).status == 0);
  const std::string other = " --notebook " + bench.folder.path("other.db");
  REQUIRE(run_program("import " + bench.folder.path("out") + other).status == 0);
  CHECK(unnumbered(run_program("report 1 --output -" + other).out) ==
        unnumbered(page_of(bench, 2)));
}

TEST_CASE("coat: a second pour that is killed is known as one, with its room, and left alone") {
  const Bench bench;
  {
    Terminal person(bench.words() + " --no-weighing --cancel shade --temperature 19C");
    REQUIRE(person.wait_for("SIDE sun"));
    person.type("");
    REQUIRE(person.wait_for("Look at it."));
    person.type("r");
    REQUIRE(person.wait_for("over the film"));
    person.type("");
    REQUIRE(person.wait_for("KEEP THE LID SHUT"));
    person.kill_it();
  }
  const auto coat = shown(bench, 2);
  CHECK(coat["state"] == "broken_off");
  bool poured = false;
  bool room = false;
  for (const auto& note : coat["notes"]) {
    poured = poured || (note["kind"] == "pour" && note["document"]["pour"] == 2 &&
                        note["document"]["over"][0]["coat"] == shown(bench, 1)["uid"]);
    room = room || (note["kind"] == "room" && note["document"]["temperature_C"] == 19.0);
  }
  CHECK(poured);
  CHECK(room);
  CHECK(coat["wanted_um"] == 2.4);
  CHECK_THAT(page_of(bench, 1), ContainsSubstring("19 C, as said at the run"));
}

TEST_CASE("coat: what the scales say is the film measured of both sides, wherever it is shown") {
  const Bench bench;
  const auto said = run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after "
                                                "12.3343g --calibrate");
  REQUIRE(said.status == 0);
  const double weighed = said.json()["weighed"]["thickness_um"];
  CHECK(shown(bench, 1)["measured_um"].get<double>() == Approx(weighed));
  CHECK(shown(bench, 2)["measured_um"].get<double>() == Approx(weighed));
  const std::string words = number_text(weighed) + " um by weight, the mean of 2 sides";
  CHECK_THAT(bench.ask("show 2").out, ContainsSubstring(words));
  CHECK_THAT(page_of(bench, 2),
             ContainsSubstring("Wanted: 2.4 \u00B5m. Measured: " + number_text(weighed) +
                               " \u00B5m by weight, the mean of 2 sides."));
  const auto log = bench.ask("log --json").json()["coats"];
  CHECK(log[0]["measured_um"].get<double>() == Approx(weighed));
  CHECK(log[0]["wanted_um"] == 2.4);
  CHECK_THAT(bench.ask("log --csv").out, ContainsSubstring(",2.4,2.4186"));
  // One weighing is one measurement, though it stands with both coats.
  const auto drawn = trend(bench);
  CHECK(drawn["coats"][1]["measured_um"].get<double>() == Approx(weighed));
  REQUIRE(drawn["factors"].size() == 1);
  CHECK(drawn["factors"][0]["coats"] == 1);
}

TEST_CASE("coat: the lesson for the resist is at the speed that was run, not the one planned") {
  const Bench bench;
  const auto said = run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after "
                                                "12.3343g --calibrate");
  REQUIRE(said.status == 0);
  double sum = 0.0;
  for (const int number : {1, 2}) { // the samples at the highest speed asked for, settled
    const auto coat = bench.coat(number);
    Speed top;
    for (const auto& sample : coat.samples)
      top = std::max(top, sample.target);
    double mean = 0.0;
    int count = 0;
    std::optional<Duration> from;
    for (const auto& sample : coat.samples)
      if (sample.target >= 0.999 * top) {
        from = from.value_or(sample.at);
        if (sample.at < *from + seconds(1.0))
          continue;
        mean += sample.speed.rpm();
        ++count;
      }
    REQUIRE(count > 10);
    sum += mean / count;
  }
  const auto kept = nlohmann::json::parse(bench.folder.read("r.calibration.json"));
  CHECK(kept["boards"][0]["speed_rpm"].get<double>() == Approx(sum / 2.0).epsilon(1e-6));
}

TEST_CASE(
    "coat: what was washed off, or poured over, is no film of the trend and teaches nothing") {
  const Bench bench;
  REQUIRE(run_program(bench.words() + " --yes --no-weighing --cancel shade --fault lid@5s "
                                      "--after-early-end repeat")
              .status == 0);
  REQUIRE(run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after 12.3222g "
                                      "--cancel shade --recoat sun")
              .status == 0);
  const auto rows = trend(bench)["coats"];
  REQUIRE(rows.size() == 4);
  CHECK(rows[0]["fate"] == "washed off");
  CHECK(rows[0]["estimated_um"].is_null());
  CHECK(rows[1]["estimated_um"].get<double>() > 1.0);
  CHECK(rows[2]["fate"] == "poured over");
  CHECK(rows[2]["estimated_um"].is_null());
  CHECK(rows[3]["pour"] == 2);
  CHECK(rows[3]["measured_um"].get<double>() > 1.0);
  CHECK(trend(bench)["factors"].empty());
}

TEST_CASE(
    "coat: a side left as an early end left it is weighed with the rest, so no film by weight") {
  const Bench bench;
  Terminal person(bench.words() + " --weighed-before 12.310g --weighed-after 12.330g "
                                  "--fault 2:lid@5s");
  REQUIRE(person.wait_for("SIDE sun"));
  person.type("");
  REQUIRE(person.wait_for("Look at it."));
  person.type("");
  REQUIRE(person.wait_for("FLIP"));
  person.type("");
  REQUIRE(person.wait_for("It ended early."));
  person.type("");
  CHECK(person.wait_for("no film by weight: what shade was left with is weighed too"));
  CHECK(person.finish() == 5);
  CHECK(shown(bench, 1)["measured_um"].is_null());
}

TEST_CASE("coat: Ctrl-C at a question ends the work as q does, and what was done is answered") {
  const Bench bench;
  Terminal person(bench.words() + " --no-weighing --cancel shade");
  REQUIRE(person.wait_for("SIDE sun"));
  person.type("");
  REQUIRE(person.wait_for("Look at it."));
  person.press("\x03");
  REQUIRE(person.wait_for("the work was ended"));
  CHECK(person.wait_for("\"outcome\": \"done\""));
  CHECK(person.finish() == 5);
  Terminal early(bench.words());
  REQUIRE(early.wait_for("WEIGH the bare plate"));
  early.press("\x03");
  CHECK(early.finish() == 5);
  CHECK(bench.log().size() == 1);
}

TEST_CASE("coat: who ends the work half-way is told what lies there, and how to do the rest") {
  const Bench bench;
  Terminal person(bench.words() + " --no-weighing --side 'ö side' --side shade");
  REQUIRE(person.wait_for("SIDE ö side"));
  person.type("");
  REQUIRE(person.wait_for("Look at it."));
  person.type("");
  REQUIRE(person.wait_for("FLIP"));
  person.type("q");
  REQUIRE(person.wait_for("keep the board from white light"));
  REQUIRE(person.wait_for("ö side: coated"));
  const std::string rest = "whirler coat " + bench.folder.path("board.json") + " --cancel 'ö side'";
  REQUIRE(person.wait_for("go on    " + rest));
  CHECK(person.finish() == 5);
  const auto said = run_program(rest.substr(8) +
                                " --speed-up 40 --json --yes --no-weighing --side 'ö side' --side "
                                "shade --notebook " +
                                bench.book());
  CHECK(said.json()["sides"][1]["state"] == "coated");
  CHECK(shown(bench, 1)["fate"].is_null()); // the side that was coated before still lies there
  Terminal bare(bench.words());
  REQUIRE(bare.wait_for("WEIGH the bare plate"));
  bare.type("q");
  CHECK(bare.finish() == 5);
  CHECK_THAT(bare.said(), !ContainsSubstring("go on "));
  const Said nothing =
      run_program(bench.words() + " --yes --no-weighing --cancel sun --cancel shade");
  CHECK_THAT(nothing.err, !ContainsSubstring("dry each side")); // nothing wet is there
}

TEST_CASE("coat: on a terminal of any size the live screen fits, and says what the hands may do") {
  const Bench bench;
  const std::string words = bench.words() + " --yes --no-weighing --cancel shade";
  Terminal narrow(words, "NO_COLOR=1", {24, 30, 0, 0});
  CHECK(narrow.finish() == 0);
  const std::string& said = narrow.said();
  CHECK_THAT(said, ContainsSubstring("KEEP THE LID SHUT"));
  CHECK(said.find("\x1b[9A") == std::string::npos); // four small lines, never the large figures
  CHECK_THAT(said, ContainsSubstring("\x1b[4A"));
  Terminal low(words, "NO_COLOR=1", {3, 100, 0, 0});
  CHECK(low.finish() == 0);
  CHECK_THAT(low.said(), ContainsSubstring("\x1b[2A\x1b[2KKEEP THE LID SHUT"));
}

namespace {

/// A table of six even marks at 600 rpm for five seconds.
std::string bare_hub(const TestFolder& folder) {
  std::string table = "t_s,mark\n";
  for (int i = 0; i < 300; ++i)
    table += std::to_string(i / 60.0) + "," + std::to_string(i % 6) + "\n";
  return folder.write("bare.csv", table);
}

} // namespace

TEST_CASE("exact: a coat of any kind comes out of another notebook as it went into it") {
  const Bench bench;
  const std::string other = " --notebook " + bench.folder.path("other.db");
  REQUIRE(run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after 12.330g "
                                      "--humidity 40% --cancel shade --fault lid@5s --recoat sun "
                                      "--after-early-end recoat")
              .status == 0); // 1: ended early, 2 and 3: poured over it
  REQUIRE(bench.ask("note 3 --measured 2.5um --text 'ein Haar \xC3\xA4 \"quer\"'").status == 0);
  bench.folder.write("p.json", R"({"kind":"profile","format":1,"name":"own","steps":[
    {"speed_rpm":600,"ramp_rpm_s":600,"dwell_s":3}],"stop":{"ramp_rpm_s":1000}})");
  const std::string run = "run " + bench.folder.path("p.json") + " --machine " +
                          bench.folder.path("m.json") + " --speed-up 40 --baseline " +
                          bare_hub(bench.folder);
  REQUIRE(bench.ask(run).status == 0); // 4
  {
    Terminal person(bench.words() + " --no-weighing --side sun");
    REQUIRE(person.wait_for("SIDE sun"));
    person.type("");
    REQUIRE(person.wait_for("KEEP THE LID SHUT"));
    person.kill_it(); // 5: broken off
  }
  {
    notebook::Coat no_tach; // 6: as a Modbus drive without a second port leaves it
    no_tach.uid = std::string(32, 'c');
    no_tach.start.files = {{"drive", "sedge.json", "{}"}};
    no_tach.samples = {{seconds(0.1), rpm(500), rpm(600), seconds(0), 0.0, -1}};
    no_tach.end = notebook::CoatEnd{"drive_fault", "the drive's own fault", "", "{}", seconds(1)};
    auto book = notebook::Notebook::open_existing(bench.book());
    REQUIRE(book->add(no_tach).ok());
  }
  REQUIRE(bench.log().size() == 6);
  for (int number = 1; number <= 6; ++number) {
    CAPTURE(number);
    const std::string n = std::to_string(number);
    const auto out = [&](const std::string& name) { return bench.folder.path(name + n); };
    REQUIRE(bench.ask("export " + n + " --output " + out("a")).status == 0);
    const auto in = run_program("import " + out("a") + other);
    CAPTURE(in.err);
    REQUIRE(in.status == 0);
    REQUIRE(run_program("export " + n + " --output " + out("b") + other).status == 0);
    for (const char* file : {"/coat.json", "/pulses.csv", "/samples.csv"})
      CHECK(bench.folder.read("a" + n + file) == bench.folder.read("b" + n + file));
    CHECK(run_program("report " + n + " --output -" + other).out == page_of(bench, number));
  }
}
