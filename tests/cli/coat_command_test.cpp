#include "board_bench.hpp"
#include "terminal.hpp"

#include <algorithm>
#include <regex>

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

std::ptrdiff_t times(const std::vector<std::string>& words, const std::string& word) {
  return std::count(words.begin(), words.end(), word);
}

} // namespace

TEST_CASE("coat: at a terminal, a lid that opens, a pour over the film, a side given up") {
  const Bench bench;
  Terminal person(bench.words() + " --fault lid@5s --seed 4");
  const auto answer = [&](const std::string& question, const std::string& typed) {
    CAPTURE(question, person.said());
    REQUIRE(person.wait_for(question));
    person.type(typed);
  };
  answer("WEIGH the bare plate", "12,5"); // no mass: asked again
  answer("WEIGH the bare plate", "12.310");
  answer("SIDE sun", "");
  REQUIRE(person.wait_for("ENDED EARLY (lid)"));
  answer("It ended early.", "x"); // none of the answers
  answer("It ended early.", "r");
  answer("SIDE sun: pour", "");
  REQUIRE(person.wait_for("DONE."));
  REQUIRE(person.wait_for("FILM"));
  REQUIRE(person.wait_for("VIBRATION"));
  answer("Look at it.", "r");
  answer("over the film", "");
  answer("Look at it.", "");
  answer("FLIP", "c");
  REQUIRE(person.wait_for("SIDE shade cancelled"));
  answer("WEIGH it once more", "12.321");
  REQUIRE(person.wait_for("BY WEIGHT"));
  CHECK(person.wait_for("LAMP sun: "));
  CHECK(person.wait_for(" s (95 %: "));
  CHECK(person.wait_for("poured more than once"));
  CHECK(person.finish() == 0);

  const auto log = bench.log();
  REQUIRE(log.size() == 3);
  CHECK(log[2].outcome == "lid");
  CHECK(log[1].outcome == "done");
  CHECK(log[0].side == "sun");
  CHECK(log[0].board == "hail 3");
  const auto noted = bench.noted();
  CHECK(times(noted, "weighing") == 2);
  CHECK(times(noted, "pour") == 3);
  CHECK(times(noted, "side cancelled") == 1);
  CHECK(times(noted, "exposure") == 1);
  CHECK(times(noted, "poured over") == 2);
  CHECK(times(noted, "thickness") == 4); // wanted at each run, and what the scales said
}

TEST_CASE("coat: a lid left open starts nothing, and the question comes again") {
  const Bench bench;
  Terminal person(bench.words() + " --no-weighing --cancel shade --fault lid@0s");
  REQUIRE(person.wait_for("SIDE sun"));
  person.type("");
  REQUIRE(person.wait_for("the lid is open"));
  REQUIRE(person.wait_for("NOT STARTED"));
  person.type("");
  REQUIRE(person.wait_for("DONE."));
  REQUIRE(person.wait_for("Look at it."));
  person.type("q"); // the work ends here; what was run is kept
  CHECK(person.finish() == 5);
  REQUIRE(bench.log().size() == 1);
  CHECK(bench.log()[0].outcome == "done");
}

TEST_CASE("coat: the live screen is large, red and amber only, and plain with NO_COLOR") {
  const Bench bench;
  const std::string words = bench.words() + " --yes --no-weighing --cancel shade";
  Terminal coloured(words);
  CHECK(coloured.finish() == 0);
  CHECK_THAT(coloured.said(), ContainsSubstring("\xE2\x96\x88"));
  const std::regex colour("\x1b\\[([0-9;]*)m");
  const std::string& said = coloured.said();
  bool any = false;
  for (std::sregex_iterator at(said.begin(), said.end(), colour), end; at != end; ++at) {
    any = true;
    const std::string code = (*at)[1];
    CHECK((code == "33" || code == "1;31" || code == "0"));
  }
  CHECK(any);
  Terminal plain(words, "NO_COLOR=1");
  CHECK(plain.finish() == 0);
  CHECK_FALSE(std::regex_search(plain.said(), colour));
  CHECK_THAT(plain.said(), ContainsSubstring("sun: coated")); // how long it has been lying
}

TEST_CASE("coat: a script answers ahead, and one document tells both sides by the keys of run") {
  const Bench bench;
  const auto said = run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after "
                                                "12.3343g --calibrate");
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  const auto json = said.json();
  CHECK(json["board"] == "hail 3");
  CHECK(json["plan"]["speed_rpm"].get<double>() > 200.0);
  REQUIRE(json["sides"].size() == 2);
  for (const auto& side : json["sides"]) {
    CAPTURE(side.dump());
    for (const char* key : {"outcome", "coat", "reached", "peak_error_rpm", "jitter"})
      CHECK(side.contains(key));
    CHECK(side["outcome"] == "done");
    CHECK(side["state"] == "coated");
    const double film = side["film"]["thickness_um"].get<double>();
    // the speed was chosen for this film; the real ramps leave nearly it
    CHECK(film == Approx(2.4).epsilon(0.04));
    CHECK(side["exposure"]["time_s"].get<double>() > 0.0);
  }
  // 24.3 mg over two faces of 42 cm2 less the hole, at 1.2 g/cm3
  CHECK(json["weighed"]["thickness_um"].get<double>() == Approx(2.419).epsilon(0.005));
  CHECK(json["taught"] == true);
  CHECK_THAT(bench.folder.read("r.calibration.json"), ContainsSubstring("weighed"));
}

TEST_CASE("coat: a lid opened in a script's run ends that side, or it is poured again as told") {
  const Bench bench;
  const std::string words = bench.words() + " --yes --no-weighing --cancel shade --fault lid@5s";
  const auto left = run_program(words);
  CHECK(left.status == 5);
  CHECK(left.json()["sides"][0]["outcome"] == "lid");
  CHECK(left.json()["sides"][0]["state"] == "ended early");
  CHECK(left.json()["sides"][1]["outcome"] == "bare"); // nobody looked: nothing more was started
  CHECK(left.json()["sides"][1]["coat"].is_null());
  const auto again = run_program(words + " --after-early-end repeat");
  CHECK(again.status == 0);
  CHECK(again.json()["sides"][0]["pours"] == 1); // the first was washed off
  CHECK(again.json()["sides"][0]["runs"].size() == 2);
  const auto over = run_program(words + " --after-early-end recoat");
  CHECK(over.status == 0);
  CHECK(over.json()["sides"][0]["pours"] == 2);
}

TEST_CASE("coat: over a film that has set, the estimate's upper bound has both films") {
  const Bench bench;
  const auto said = run_program(bench.words() + " --yes --no-weighing --cancel shade --recoat sun");
  REQUIRE(said.status == 0);
  const auto side = said.json()["sides"][0];
  REQUIRE(side["runs"].size() == 2);
  REQUIRE(side["runs"][0]["film"]["is_set"] == true);
  const double first = side["runs"][0]["film"]["thickness_um"].get<double>();
  const double last_high = side["runs"][1]["film"]["interval_um"][1].get<double>();
  CHECK(side["film"]["interval_um"][1].get<double>() == Approx(last_high + first));
  CHECK(side["film"]["thickness_um"] == side["runs"][1]["film"]["thickness_um"]);
}

TEST_CASE("coat: a board that names its spin is run by it, one side alone, and teaches nothing") {
  const Bench bench;
  bench.folder.write("p.json", R"({"kind":"profile","format":1,"name":"own","steps":[
    {"speed_rpm":600,"ramp_rpm_s":600,"dwell_s":3},{"speed_rpm":1800,"ramp_rpm_s":1500,"dwell_s":20}],
    "stop":{"ramp_rpm_s":1000}})");
  bench.folder.write("board.json", R"({"kind":"board","format":1,"name":"hail 4","resist":"r.json",
    "blank":"b.json","machine":"m.json","profile":"p.json","sides":["only"]})");
  const auto said = run_program(bench.words() + " --yes --weighed-before 12.310g --weighed-after "
                                                "12.323g --calibrate");
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  const auto json = said.json();
  REQUIRE(json["sides"].size() == 1);
  CHECK(json["sides"][0]["top_speed_rpm"].get<double>() == Approx(1800).epsilon(0.02));
  CHECK(json["plan"]["thickness_um"].get<double>() ==
        Approx(json["sides"][0]["film"]["thickness_um"].get<double>()).epsilon(0.02));
  CHECK(json["weighed"]["thickness_um"].get<double>() == Approx(2.588).epsilon(0.005));
  CHECK(json["taught"] == false);
  CHECK_THAT(said.err, ContainsSubstring("lamp's strength"));
}

TEST_CASE(
    "coat: a line that is lost is status 4, as of run, and a script starts nothing after it") {
  const Bench bench;
  const auto said = run_program(bench.words() + " --yes --no-weighing --fault cable@4s");
  CHECK(said.status == 4);
  CHECK(said.json()["sides"][0]["outcome"] == "link_lost");
  CHECK(said.json()["sides"][1]["outcome"] == "bare");
  CHECK(bench.log().size() == 1);
}

TEST_CASE("coat: what cannot be answered, or is not said, ends before anything moves") {
  const Bench bench;
  const auto silent = run_program(bench.words());
  CHECK(silent.status == 2);
  CHECK_THAT(silent.err, ContainsSubstring("--yes"));
  CHECK(run_program(bench.words() + " --yes --recoat moon").status == 2);
  CHECK(run_program(bench.words() + " --yes --weighed-before heavy").status == 2);
  CHECK(run_program(bench.words() + " --yes --target 900um").status == 3);
  std::string open = kMachine;
  open.replace(open.find("\"switch\""), 8, "\"none\"");
  bench.folder.write("m.json", open);
  const auto lid = run_program(bench.words() + " --yes");
  CHECK(lid.status == 2);
  CHECK_THAT(lid.err, ContainsSubstring("--lid-closed"));
  bench.folder.write("board.json", R"({"kind":"board","format":1,"name":"x"})");
  CHECK(run_program(bench.words() + " --yes").status == 3);
  const auto bare = run_program("coat --board x --yes --notebook " + bench.book());
  CHECK(bare.status == 2);
  CHECK_THAT(bare.err, ContainsSubstring("--resist"));
  CHECK_FALSE(std::filesystem::exists(bench.book()));
}
