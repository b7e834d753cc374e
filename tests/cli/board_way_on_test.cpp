// The way on after an earlier go of the same board: which films lie on its plate, what it weighed
// bare, and over which films the weight that it gained is divided.
#include "board_bench.hpp"
#include "terminal.hpp"

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

// The bench's plate has faces of 42 cm2 less the hole; 2.4 um of 1.2 g/cm3 are 12.06 mg on each.
constexpr double kOverTwo = 2.419; ///< um, of 24.3 mg
constexpr double kOverOne = 2.429; ///< um, of 12.2 mg

nlohmann::json shown(const Bench& bench, int coat) {
  return bench.ask("show " + std::to_string(coat) + " --json").json();
}

/// One side of the board, by a script.
Said coated(const Bench& bench, const std::string& words) {
  Said said = run_program(bench.words() + " --yes " + words);
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  return said;
}

void answer(Terminal& person, const std::string& question, const std::string& typed) {
  CAPTURE(question, person.said());
  REQUIRE(person.wait_for(question));
  person.type(typed);
}

} // namespace

TEST_CASE("coat: weight gained is divided over the side of an earlier go as well, and so taught") {
  const Bench bench;
  coated(bench, "--cancel shade --weighed-before 12.3100g");
  const Said said =
      coated(bench, "--cancel sun --weighed-before 12.3100g --weighed-after 12.3343g --calibrate");
  CHECK_THAT(said.err, ContainsSubstring("BY WEIGHT 2.42 um, mean of both sides"));
  CHECK(said.json()["weighed"]["thickness_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
  CHECK(said.json()["weighed"]["sides"] == nlohmann::json({"sun", "shade"}));
  CHECK(said.json()["taught"] == true);
  const auto kept = nlohmann::json::parse(bench.folder.read("r.calibration.json"));
  CHECK(kept["boards"][0]["thickness_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
  for (const int coat : {1, 2})
    CHECK(shown(bench, coat)["measured_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
}

TEST_CASE("coat: where nobody knows whether a film was weighed bare, none is stored or taught") {
  const Bench bench;
  coated(bench, "--cancel shade --no-weighing");
  const std::string both = "--cancel sun --weighed-before 12.3100g --weighed-after 12.3343g ";
  const Said silent = coated(bench, both + "--calibrate");
  CHECK_THAT(silent.err, ContainsSubstring("nobody knows which films were on the plate"));
  CHECK(silent.json()["weighed"]["thickness_um"].is_null());
  CHECK(silent.json()["taught"] == false);
  CHECK(shown(bench, 2)["measured_um"].is_null());
  const Said without = coated(bench, both + "--weighed-without sun");
  CHECK(without.json()["weighed"]["thickness_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
  const Said with = coated(bench, "--cancel sun --weighed-before 12.3215g --weighed-after 12.3337g "
                                  "--weighed-with sun");
  CHECK(with.json()["weighed"]["thickness_um"].get<double>() == Approx(kOverOne).epsilon(0.005));
  CHECK(with.json()["weighed"]["sides"] == nlohmann::json({"shade"}));
}

TEST_CASE("coat: a side that is not in this go's plan still bears its film") {
  const Bench bench;
  coated(bench, "--cancel shade --weighed-before 12.3100g");
  const Said said = coated(bench, "--side shade --weighed-before 12.31g --weighed-after 12.3343g");
  CHECK(said.json()["weighed"]["thickness_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
}

TEST_CASE("coat: a side given up after its run is weighed with the rest, unless it was washed") {
  const Bench bench;
  Terminal person(bench.words());
  answer(person, "WEIGH the bare plate", "12.3100");
  answer(person, "SIDE sun", "");
  answer(person, "Look at it.", "c");
  answer(person, "Is sun washed off now?", "");
  answer(person, "FLIP", "");
  answer(person, "Look at it.", "");
  answer(person, "WEIGH it once more", "12.3343");
  REQUIRE(person.wait_for("BY WEIGHT 2.42 um, mean of both sides"));
  CHECK(person.finish() == 0);
  CHECK(shown(bench, 1)["fate"] == "side cancelled");

  const Said washed = coated(bench, "--fault lid@5s --after-early-end cancel --washed-off sun "
                                    "--weighed-before 12.3100g --weighed-after 12.3222g");
  CHECK(washed.json()["weighed"]["thickness_um"].get<double>() == Approx(kOverOne).epsilon(0.005));
  CHECK(shown(bench, 3)["fate"] == "washed off");
  const Said left = coated(bench, "--fault lid@5s --after-early-end cancel --weighed-before "
                                  "12.3100g --weighed-after 12.3343g");
  CHECK_THAT(left.err, ContainsSubstring("what sun was left with is weighed too"));
  CHECK(left.json()["weighed"]["thickness_um"].is_null());
}

TEST_CASE("coat: a film by weight outside the estimate's interval is kept on a word alone") {
  const Bench bench;
  const std::string twice = "--cancel shade --weighed-before 12.3100g --weighed-after 12.3343g ";
  const Said told = coated(bench, twice + "--calibrate");
  CHECK_THAT(told.err, ContainsSubstring("4.84 um by weight is outside what the runs left"));
  CHECK(told.json()["weighed"]["thickness_um"].is_null());
  CHECK_THAT(told.json()["weighed"]["doubt"].get<std::string>(), ContainsSubstring("4.84 um"));
  CHECK(told.json()["taught"] == false);
  CHECK(shown(bench, 1)["measured_um"].is_null());
  const Said sure = coated(bench, twice + "--calibrate --sure");
  CHECK(sure.json()["weighed"]["thickness_um"].get<double>() == Approx(4.838).epsilon(0.005));
  CHECK(sure.json()["taught"] == true);
}

TEST_CASE("coat: after a kill the bare weight is offered, and the films that lie there are known") {
  const Bench bench;
  {
    Terminal person(bench.words());
    answer(person, "WEIGH the bare plate", "12.3100");
    answer(person, "SIDE sun", "");
    answer(person, "Look at it.", "");
    answer(person, "FLIP", "");
    REQUIRE(person.wait_for("KEEP THE LID SHUT"));
    person.kill_it();
  }
  CHECK(shown(bench, 1)["weighings"][0]["mass_g"] == 12.31);
  CHECK_THAT(bench.ask("show 2").out, ContainsSubstring("bare 12.31 g"));
  Terminal person(bench.words());
  REQUIRE(person.wait_for("sun: coated"));
  REQUIRE(person.wait_for("shade: broken off"));
  answer(person, "bare 12.31 g kept from coat 1: Enter takes it", "");
  answer(person, "SIDE sun: coated", "k");
  answer(person, "SIDE shade: broken off", "w");
  answer(person, "Look at it.", "");
  answer(person, "WEIGH it once more", "12.3343");
  REQUIRE(person.wait_for("BY WEIGHT 2.42 um, mean of both sides"));
  CHECK(person.finish() == 0);
  CHECK(shown(bench, 2)["fate"] == "washed off");
  CHECK(shown(bench, 3)["notes"][0]["document"]["pour"] == 1);
  CHECK(shown(bench, 1)["measured_um"].get<double>() == Approx(kOverTwo).epsilon(0.005));
  CHECK_THAT(bench.ask("show 1").out, ContainsSubstring("bare 12.31 g, coated 12.3343 g"));
}

TEST_CASE("coat: a pour over a film of an earlier go is the second there, with both in its bound") {
  const Bench bench;
  coated(bench, "--cancel shade --no-weighing");
  const auto side =
      coated(bench, "--cancel shade --no-weighing --over-film sun").json()["sides"][0];
  CHECK(side["pours"] == 2);
  const double first = shown(bench, 2)["notes"][0]["document"]["over"][0]["film"]["thickness_um"];
  CHECK(side["film"]["interval_um"][1].get<double>() ==
        Approx(side["runs"][0]["film"]["interval_um"][1].get<double>() + first));
  CHECK(shown(bench, 1)["fate"] == "poured over");
  const auto left = coated(bench, "--keep-film sun --cancel shade --no-weighing").json();
  CHECK(left["sides"][0]["state"] == "kept");
  CHECK(left["sides"][0]["coat"] == 2);
  CHECK(bench.log().size() == 2);
  coated(bench, "--washed-off sun --cancel shade --no-weighing");
  CHECK(shown(bench, 2)["fate"] == "washed off");
  CHECK(shown(bench, 3)["notes"][0]["document"]["pour"] == 1);
}

TEST_CASE("coat: a side is washed off and run again by flag, once for each time") {
  const Bench bench;
  const auto side = coated(bench, "--cancel shade --no-weighing --repeat sun").json()["sides"][0];
  CHECK(side["runs"].size() == 2);
  CHECK(side["pours"] == 1);
  CHECK(shown(bench, 1)["fate"] == "washed off");
}

TEST_CASE("coat: answers that exclude each other, or speak of no film, end before anything moves") {
  const Bench bench;
  for (const char* words :
       {"--cancel sun --recoat sun", "--cancel sun --repeat sun", "--keep-film sun --over-film sun",
        "--keep-film sun", "--weighed-with sun --weighed-without sun"}) {
    CAPTURE(words);
    const Said said = run_program(bench.words() + " --yes --no-weighing " + words);
    CHECK(said.status == 2);
    CHECK_THAT(said.err, ContainsSubstring("'sun'"));
  }
  CHECK((!std::filesystem::exists(bench.book()) || bench.log().empty()));
}

TEST_CASE("coat: a board that another program coats now is said so, and each closes with its own") {
  const Bench bench;
  const std::string slow = "coat " + bench.folder.path("board.json") + " --speed-up 6 --notebook " +
                           bench.book() + " --yes --no-weighing --cancel shade";
  Terminal first(slow);
  REQUIRE(first.wait_for("KEEP THE LID SHUT"));
  const Said second = coated(bench, "--no-weighing --cancel shade");
  const auto warned = second.err.find("ANOTHER PROGRAM COATS THIS BOARD right now: sun (coat 1)");
  REQUIRE(warned != std::string::npos);
  CHECK(warned < second.err.find("SIDE sun"));
  CHECK_THAT(second.err, ContainsSubstring("sun: being coated now (coat 1)"));
  const std::string closing = second.err.substr(second.err.find("after    dry"));
  CHECK_THAT(closing, ContainsSubstring("(coat 2)") && !ContainsSubstring("(coat 1)"));
  CHECK(first.finish() == 0);
  const std::string last = first.said().substr(first.said().find("after    dry"));
  CHECK_THAT(last, ContainsSubstring("sun: coated") && ContainsSubstring("(coat 1)") &&
                       !ContainsSubstring("(coat 2)"));
}
