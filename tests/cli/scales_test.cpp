// At the scales: what `coat` says before and after, which figures it asks about again, and when the
// scales are too coarse to tell a film; and the words by which a film is held against the one
// wanted.
#include "board_bench.hpp"
#include "terminal.hpp"
#include "whirler/units/text.hpp"

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kDisc = R"({"kind":"blank","format":1,"outline":{"disc_mm":74},"thickness_mm":1.2,
  "copper_um":[18,18],"hole":{"diameter_mm":4.2,"at_mm":[0,0]}})";

/// A script's coat of both sides with these masses.
Said weighed(const Bench& bench, const std::string& before, const std::string& after) {
  return run_program(bench.words() + " --yes --weighed-before " + before + " --weighed-after " +
                     after);
}

} // namespace

TEST_CASE("coat: the scales' question says what the film adds, and asks again after a slip") {
  const Bench bench;
  Terminal person(bench.words() + " --cancel shade");
  const auto answer = [&](const std::string& question, const std::string& typed) {
    CAPTURE(question, person.said());
    REQUIRE(person.wait_for(question));
    person.type(typed);
  };
  // 2.4 um on 42 cm2 less the hole, at 1.2 g/cm3: 12.06 mg
  answer("WEIGH the bare plate, clean and dry (the film adds some 12 mg), in grams", "12,310");
  REQUIRE(person.wait_for("'12,310' has a comma; type the mass with a point, as 24.310"));
  answer("WEIGH the bare plate", "123.10");
  REQUIRE(person.wait_for("a bare plate of 123.1 g, which by its file weighs some 15 g"));
  answer("WEIGH the bare plate", "-12.31");
  answer("WEIGH the bare plate", "12.310");
  answer("SIDE sun", "");
  answer("Look at it.", "");
  answer("WEIGH it once more, dry and cool", "12.3099");
  REQUIRE(person.wait_for("it weighs less than before: 12.3099 g coated, 12.31 g bare"));
  answer("WEIGH it once more", "12.80");
  REQUIRE(person.wait_for("is far from what this spin leaves"));
  answer("WEIGH it once more", "12.80"); // no second word makes a film of it
  REQUIRE(person.wait_for("is far from what this spin leaves"));
  answer("WEIGH it once more", "12.3215");
  REQUIRE(person.wait_for("BY WEIGHT 2.29 um"));
  REQUIRE(person.wait_for("as wanted: 0.954 times the 2.4 um wanted"));
  CHECK(person.finish() == 0);
}

TEST_CASE("coat: a bare plate unlike its file is believed when its figure is typed again") {
  const Bench bench;
  Terminal person(bench.words() + " --cancel shade");
  for (const char* typed : {"31.4", "131.4", "131.4"}) { // the first is another doubted figure
    REQUIRE(person.wait_for("WEIGH the bare plate"));
    person.type(typed);
  }
  REQUIRE(person.wait_for("SIDE sun"));
  person.type("q");
  CHECK(person.finish() == 5);
}

TEST_CASE("coat: scales too coarse for the film are called so, and no lesson is offered") {
  const Bench bench;
  const Said fine = weighed(bench, "12.310g", "12.334g"); // 0.8 of 1 mg, of 24 mg
  CHECK(fine.json()["weighed"]["thickness_um"].get<double>() == Approx(2.389).epsilon(0.005));
  CHECK_THAT(fine.err, !ContainsSubstring("last digit"));
  CHECK_THAT(fine.err, ContainsSubstring("BY WEIGHT 2.39 um, mean of both sides"));

  const Said rough = weighed(bench, "12.310g", "12.32g"); // the finer of the two counts
  CHECK_THAT(rough.err, ContainsSubstring("warning  the scales' last digit alone leaves the film "
                                          "unsure by 8 %"));
  CHECK_THAT(rough.err, ContainsSubstring("thinner than wanted: 0.415 times the 2.4 um wanted"));

  const Said coarse = weighed(bench, "12.31g", "12.33g"); // 8 of 20 mg
  CHECK(coarse.json()["weighed"]["unsure_share"].get<double>() == Approx(0.4));
  CHECK_THAT(coarse.err, ContainsSubstring("unsure by 40 %"));
  CHECK_THAT(coarse.err,
             ContainsSubstring("whether it is as wanted these scales cannot tell: 0.829 "
                               "times the 2.4 um wanted"));
  CHECK_THAT(coarse.err, ContainsSubstring("cannot teach the resist: the scales are too coarse"));
}

TEST_CASE("coat: a film of the label alone cannot tell whether it is as wanted, a learnt one can") {
  const Bench bench;
  const std::string words = bench.words() + " --yes --no-weighing --cancel shade";
  const Said label = run_program(words);
  const auto film = label.json()["sides"][0]["film"];
  const auto times = [&](int end) {
    return number_text(film["interval_um"][end].get<double>() / 2.4, 2);
  };
  CHECK_THAT(label.err, ContainsSubstring(
                            "whether it is as wanted this estimate cannot tell: " + times(0) +
                            " to " + times(1) + " times the 2.4 um wanted; weigh or measure it"));
  const std::string rpm = number_text(label.json()["plan"]["speed_rpm"].get<double>(), 5);
  for (const char* um : {"2.4", "2.41", "2.39", "2.42", "2.38"})
    REQUIRE(run_program("calibrate " + bench.folder.path("r.json") + " --witness " + um + "um@" +
                        rpm + "rpm --spread 5s@500rpm --ramp 2000rpm/s")
                .status == 0);
  const Said learnt = run_program(words);
  CHECK_THAT(learnt.err, ContainsSubstring("  as wanted: 0.9"));
  CHECK_THAT(learnt.err, !ContainsSubstring("cannot tell: 0."));
}

TEST_CASE("coat: a disc has an edge where other plates have corners") {
  const Bench bench;
  const std::string words = bench.words() + " --yes --no-weighing --cancel sun --cancel shade";
  CHECK_THAT(run_program(words).err, ContainsSubstring("The plate's corners run at "));
  bench.folder.write("b.json", kDisc);
  const Said disc = run_program(words);
  CHECK_THAT(disc.err, ContainsSubstring("The plate's edge runs at "));
  CHECK_THAT(disc.err, !ContainsSubstring("corner"));
}
