#include "catch.hpp"
#include "run_program.hpp"

#include <cmath>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kBlank = R"({"kind":"blank","format":1,"outline":{"rectangle_mm":[100,80]},
  "thickness_mm":1.6,"copper_um":[35,35],"hole":{"diameter_mm":4.2,"at_mm":[0,0]}})";

const std::string kTree = WHIRLER_SOURCE_DIR;

double number(const nlohmann::json& json, const std::string& pointer) {
  return json.at(nlohmann::json::json_pointer(pointer)).get<double>();
}

} // namespace

TEST_CASE("balance: a grade alone is a permissible unbalance and no correction") {
  for (const char* grade : {"6.3", "G6.3", "6.3mm/s", "'G 6.3'"}) {
    const auto said =
        run_program(std::string("balance --speed 3000rpm --mass 500g --json --grade ") + grade);
    REQUIRE(said.status == 0);
    const auto json = said.json();
    CHECK(number(json, "/permissible_g_mm") == Approx(10.027).epsilon(1e-4));
    CHECK(json["correction"].is_null());
    CHECK(json["residual"].is_null());
  }
}

TEST_CASE("balance: one trial run with phase") {
  const auto said = run_program(
      "balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm --radius 60mm --json");
  REQUIRE(said.status == 0);
  const auto json = said.json();
  CHECK(number(json, "/correction/mass_g") == Approx(1.006).epsilon(1e-3));
  CHECK(number(json, "/correction/angle_deg") == Approx(329.21).margin(0.1));
  CHECK(number(json, "/correction/radius_mm") == Approx(60.0));
  CHECK(number(json, "/residual") == Approx(0.0).margin(1e-9));
  CHECK(json["permissible_g_mm"].is_null());
}

TEST_CASE("balance: a trial mass that stays on is counted") {
  const std::string words = "balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm --json";
  const auto off = run_program(words).json();
  const auto on = run_program(words + " --trial-stays").json();
  // off = on + the trial, as vectors
  const double m0 = number(off, "/correction/mass_g");
  const double a0 = number(off, "/correction/angle_deg") * 3.14159265358979 / 180.0;
  const double m1 = number(on, "/correction/mass_g");
  const double a1 = number(on, "/correction/angle_deg") * 3.14159265358979 / 180.0;
  CHECK(m1 * std::cos(a1) + 2.0 == Approx(m0 * std::cos(a0)).margin(1e-9));
  CHECK(m1 * std::sin(a1) == Approx(m0 * std::sin(a0)).margin(1e-9));
}

TEST_CASE("balance: the phase of jitter runs the other way round, and --from-jitter knows it") {
  // a machine of influence 1 at no lag: heavy side at 70 deg; lateness phase falls with it
  const auto said = run_program("balance --from-jitter --z0 10@-70deg --z1 14.142136@-25deg "
                                "--trial 1g@340deg@10mm --json");
  REQUIRE(said.status == 0);
  CHECK(number(said.json(), "/correction/angle_deg") == Approx(250.0).margin(0.01));
}

TEST_CASE("balance: several speeds, a pattern, and holes with steps") {
  const auto said = run_program(
      "balance --z0 3.4@116deg --z0 5@80deg --z1 1.8@42deg --z1 4@30deg --pattern 0.2@10deg "
      "--trial 2g@0deg@30mm --holes 12@15deg@25mm --step 0.1g --largest 1.5g --json");
  REQUIRE(said.status == 0);
  const auto json = said.json();
  CHECK(number(json, "/residual") > 0.0);
  double total = 0.0;
  for (const auto& mass : json["shares"]["masses"]) {
    CHECK(mass["mass_g"].get<double>() <= 1.5 + 1e-9);
    CHECK(std::abs(std::remainder(mass["mass_g"].get<double>(), 0.1)) < 1e-9);
    total += mass["mass_g"].get<double>();
  }
  CHECK(total > 0.0);
}

TEST_CASE("balance: four amplitudes without phase, and four that no machine gives") {
  const auto said = run_program("balance --amplitudes 8,11.05,3.82,15.09 --trial 4.5g@30mm --json");
  REQUIRE(said.status == 0);
  CHECK(number(said.json(), "/correction/mass_g") == Approx(4.68).epsilon(1.5e-3));
  CHECK(number(said.json(), "/correction/angle_deg") == Approx(90.3).margin(0.1));
  for (const char* sizes : {"3,5,1,1", "1,1,1,1"})
    CHECK(run_program(std::string("balance --trial 2g@30mm --amplitudes ") + sizes).status == 3);
}

TEST_CASE("balance: in the plate's terms, the hole is off by so much towards a corner") {
  const TestFolder folder;
  // heavy side at 149.2 deg, clockwise: 210.8 deg on the plate, so the hole is off to 30.8 deg
  const auto said =
      run_program("balance --z0 3.4@116deg --z1 1.8@42deg --trial 0.4g@0deg@30mm "
                  "--blank " +
                  folder.write("b.json", kBlank) + " --json --svg " + folder.path("b.svg"));
  REQUIRE(said.status == 0);
  const auto json = said.json();
  const double hole_off = number(json, "/unbalance/g_mm") / 28.6808;
  CHECK(number(json, "/cures/redrill/by_mm") == Approx(hole_off).epsilon(1e-6));
  CHECK(json["cures"]["shift"]["towards"] == "far right corner");
  CHECK(json["cures"]["redrill"]["towards"] == "near left corner");
  CHECK_THAT(said.err, ContainsSubstring("The hole is off by"));
  CHECK_THAT(folder.read("b.svg"), ContainsSubstring("<ellipse"));
}

TEST_CASE("balance: words that make no command end with status 2") {
  for (const char* words : {"",
                            "--grade 6.3",
                            "--grade 6.3 --speed 3000rpm",
                            "--grade x --speed 3000rpm --mass 1g",
                            "--z0 3@1deg --trial 2g@30mm",
                            "--z0 3@1deg --z1 2@5deg",
                            "--z0 3 --z1 2@5deg --trial 2g@30mm",
                            "--z0 -3@1deg --z1 2@5deg --trial 2g@30mm",
                            "--z0 3@1deg --z1 2@5deg --trial 2g",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm@0deg",
                            "--amplitudes 1,2,3 --trial 2g@30mm",
                            "--amplitudes 1,2,3,x --trial 2g@30mm",
                            "--amplitudes 1,2,3,4 --z0 3@1deg --z1 2@2deg --trial 2g@30mm",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --holes 2.5@25mm",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --holes 0@25mm",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --step 0.1g",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --largest 0.5g",
                            "--grade 6.3 --speed 3000rpm --mass 300g --holes 12@25mm",
                            "--guided --yes --machine m.json --step 0.1g",
                            "--guided --yes --machine m.json --trial-stays",
                            "--guided --yes --machine m.json --noise 0.05",
                            "--guided --yes --machine m.json --pattern 1@0deg",
                            "--guided --yes --machine m.json --mass 300g",
                            "--amplitudes 8,11,4,15 --trial 2g@30mm --from-jitter",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --plate-at 30deg",
                            "--z0 3@1deg --z1 2@5deg --trial 2g@30mm --turned-over",
                            "--z0 3@1e300deg --z1 2@5deg --trial 2g@30mm"}) {
    CAPTURE(words);
    CHECK(run_program(std::string("balance ") + words).status == 2);
  }
}

TEST_CASE("balance: questions that have no answer end with status 3") {
  for (const char* words :
       {"--grade 0 --speed 3000rpm --mass 300g", "--grade 6.3 --speed 0rpm --mass 300g",
        "--z0 3@1deg --z1 3@1deg --trial 2g@30mm", "--z0 3@1deg --z1 1@1deg --trial 0g@30mm",
        "--z0 3@1deg --z1 1@1deg --trial 2g@30mm --holes 2@25mm --largest 0.001g",
        "--z0 0@0deg --z1 1.8@42deg --trial 2g@0deg@30mm",
        "--z0 2@10deg --pattern 2@10deg --z1 1.8@42deg --trial 2g@0deg@30mm",
        "--z0 3@1deg --z1 1@1deg --trial 2g@30mm --noise 0",
        "--amplitudes 0,1,2,3 --trial 2g@30mm"}) {
    CAPTURE(words);
    CHECK(run_program(std::string("balance ") + words).status == 3);
  }
}

TEST_CASE("balance: what the bound rests on is said, and that no hole takes a mass") {
  const std::string readings = "balance --json --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm";
  const auto published = run_program(readings);
  CHECK(published.json().at("residual_g_mm").at("from") == "published_trials");
  CHECK_THAT(published.err, ContainsSubstring("--noise tells your own"));
  const auto own = run_program(readings + " --noise 0.01");
  CHECK(own.json().at("residual_g_mm").at("from") == "noise");
  CHECK_THAT(own.err, !ContainsSubstring("published"));
  const auto coarse = run_program(readings + " --holes 12@25mm --step 5g");
  CHECK(coarse.json().at("shares").at("masses").empty());
  CHECK(
      coarse.err.starts_with("No hole takes a mass")); // no mass that cannot be put on comes first
  CHECK_THAT(coarse.err, !ContainsSubstring("Add "));
  const double finer = coarse.json().at("shares").at("finer_step_g").get<double>();
  CHECK(finer < 5.0);
  CHECK_THAT(coarse.err, ContainsSubstring("What would do: steps of " + std::to_string(finer)[0]));
  const auto done =
      run_program(readings + " --holes 12@25mm --step " + std::to_string(finer) + "g");
  CHECK(number(done.json(), "/shares/missed_g_mm") < 0.1 * 60.4);
}

TEST_CASE("balance: of four runs the trial mass that stays is where the last run had it") {
  const auto said =
      run_program("balance --amplitudes 8,11.05,3.82,15.09 --trial 4.5g@30mm --trial-stays --json");
  REQUIRE(said.status == 0);
  // 4.68 g at 90.3 deg less 4.5 g at 240 deg, by hand
  CHECK(number(said.json(), "/correction/mass_g") == Approx(8.86).epsilon(2e-3));
  CHECK(number(said.json(), "/correction/angle_deg") == Approx(75.5).margin(0.1));
  CHECK(number(said.json(), "/trial_left_on/angle_deg") == Approx(240.0));
  CHECK_THAT(said.err, ContainsSubstring("left on at 240 deg"));
}

TEST_CASE("balance: a trial that changed little promises nothing, and says which would do") {
  const auto said =
      run_program("balance --z0 3.4@116deg --z1 3.6@114deg --trial 2g@0deg@30mm --json");
  REQUIRE(said.status == 0);
  CHECK(said.json()["residual_g_mm"]["bound_95"].is_null());
  CHECK_THAT(said.err, ContainsSubstring("Then: nobody can say"));
  CHECK(said.err.starts_with("Repeat with a larger trial mass"));
  CHECK_THAT(said.err, !ContainsSubstring("Add "));
  CHECK_THAT(said.err, ContainsSubstring("repeat with a larger one"));
  CHECK_THAT(said.err, !ContainsSubstring("in 95 of 100"));
}

TEST_CASE("balance: the machine's own grade and speed serve where none are given") {
  const TestFolder folder;
  const std::string machine = R"({"kind":"machine","format":1,"drive":{"type":"simulated"},
    "direction":"cw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,
    "sensor_on":"ground"},"lid":"switch","air":"open","limits":{"speed_rpm":6000,
    "speed_min_rpm":200,"ramp_rpm_s":3000,"balance_grade_mm_s":6.3},
    "rotor":{"mass_g":300,"inertia_kg_m2":1e-4}})";
  const std::string words = "balance --json --z0 3.4@116deg --z1 1.8@42deg --trial 0.4g@0deg@30mm"
                            " --machine " +
                            folder.write("m.json", machine) + " --blank " +
                            folder.write("b.json", kBlank);
  const auto said = run_program(words);
  REQUIRE(said.status == 0);
  // G 6.3 at 6000 rpm is 10.03 um; 300 g and the plate's 28.6 g turn
  CHECK(number(said.json(), "/permissible_g_mm") == Approx(0.01002676 * 328.62).epsilon(1e-3));
  CHECK_THAT(said.err, ContainsSubstring("run slower: at most "));
  CHECK_THAT(said.err, !ContainsSubstring("--grade"));
  const auto beyond = run_program(words + " --speed 9000rpm");
  CHECK_THAT(beyond.err, ContainsSubstring("above the machine's limit of 6000 rpm"));
}

TEST_CASE("balance: readings within their own noise have nothing to balance, and a bound") {
  const auto said = run_program("balance --json --z0 0.05@10deg --z1 3@60deg --trial 2g@30mm "
                                "--noise 0.05 --grade 6.3 --speed 3000rpm --mass 500g");
  REQUIRE(said.status == 0);
  CHECK(said.json()["unbalance"]["shown"] == false);
  CHECK(number(said.json(), "/unbalance/at_most_g_mm") < number(said.json(), "/permissible_g_mm"));
  CHECK_THAT(said.err, ContainsSubstring("Nothing to balance as far as these readings can tell"));
  CHECK_THAT(said.err, ContainsSubstring("The grade is kept already"));
  CHECK_THAT(said.err, !ContainsSubstring("Add "));
}

TEST_CASE("balance: what a weak trial cannot tell is not drawn as 95 % sure") {
  const TestFolder folder;
  const std::string words = "balance --trial 2g@0deg@30mm --z0 3.4@116deg --svg ";
  REQUIRE(run_program(words + folder.path("weak.svg") + " --z1 3.6@114deg").status == 0);
  REQUIRE(run_program(words + folder.path("plain.svg") + " --z1 1.8@42deg").status == 0);
  CHECK_THAT(folder.read("plain.svg"), ContainsSubstring("<ellipse"));
  CHECK_THAT(folder.read("weak.svg"), !ContainsSubstring("<ellipse"));
  CHECK_THAT(folder.read("weak.svg"), !ContainsSubstring("95 % sure"));
  CHECK_THAT(folder.read("weak.svg"), ContainsSubstring("Repeat with a larger trial mass"));
}

TEST_CASE("balance: which way angles are counted is said where a machine is named") {
  const TestFolder folder;
  const std::string words = "balance --trial 2g@0deg@30mm --z0 3.4@116deg --z1 1.8@42deg";
  CHECK_THAT(run_program(words).out, ContainsSubstring("with the rotation;"));
  const std::string machine = kTree + "/profiles/machines/bench_simulated.json";
  CHECK_THAT(run_program(words + " --machine " + machine).out,
             ContainsSubstring("with the rotation, clockwise seen from above;"));
  const auto drawn =
      run_program(words + " --machine " + machine + " --svg " + folder.path("turns.svg"));
  REQUIRE(drawn.status == 0);
  CHECK_THAT(folder.read("turns.svg"), ContainsSubstring(">clockwise<"));
}

TEST_CASE("balance: many shares are drawn as their sum, with marks where they go") {
  const TestFolder folder;
  REQUIRE(run_program("balance --trial 2g@0deg@30mm --z0 3.4@116deg --z1 1.8@42deg --largest 0.8g "
                      "--step 0.1g --holes 12@25mm --svg " +
                      folder.path("many.svg"))
              .status == 0);
  CHECK_THAT(folder.read("many.svg"), ContainsSubstring("g in 5 holes, together"));
  CHECK_THAT(folder.read("many.svg"), ContainsSubstring("in the holes: 0.8 g at 0 deg"));
}

TEST_CASE("balance: a hole that is taken gets no mass, and one that is none is refused") {
  const std::string words =
      "balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm --json --holes 12@25mm"; // 329
  const auto all = run_program(words);
  REQUIRE(all.status == 0);
  CHECK(all.json()["shares"]["masses"][1]["angle_deg"] == Approx(330.0));
  const auto fewer = run_program(words + " --without 333deg --without=-61deg");
  REQUIRE(fewer.status == 0);
  const auto masses = fewer.json()["shares"]["masses"];
  REQUIRE(masses.size() == 2);
  CHECK(masses[0]["angle_deg"] == Approx(0.0).margin(1e-9));
  CHECK(masses[1]["angle_deg"] == Approx(270.0));
  const auto none = run_program(words + " --without 45deg");
  CHECK(none.status == 3);
  CHECK_THAT(none.err, ContainsSubstring("no hole lies at 45 deg"));
  CHECK(run_program(words + " --without here").status == 2);
  const auto nowhere = run_program("balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm "
                                   "--without 60deg");
  CHECK(nowhere.status == 2);
  CHECK_THAT(nowhere.err, ContainsSubstring("--without is for masses in holes"));
}

TEST_CASE("balance: holes that cannot take it hide neither the unbalance nor the other cures") {
  const TestFolder folder;
  const auto said = run_program("balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm "
                                "--holes 8@25mm --largest 0.3g --json --blank " +
                                folder.write("b.json", kBlank));
  CHECK(said.status == 3);
  CHECK_THAT(said.json()["fault"]["what"].get<std::string>(), ContainsSubstring("the places take"));
  CHECK(number(said.json(), "/unbalance/g_mm") == Approx(60.4).epsilon(2e-3));
  CHECK_THAT(said.err, ContainsSubstring("The holes cannot take it"));
  CHECK_THAT(said.err, ContainsSubstring("drill a new blank"));
}

TEST_CASE("balance: the drawing shows what each hole gets, and the words say that it is instead") {
  const TestFolder folder;
  const auto said = run_program("balance --z0 3.4@116deg --z1 1.8@42deg --trial 2g@0deg@30mm "
                                "--holes 12@30mm --svg " +
                                folder.path("holes.svg"));
  REQUIRE(said.status == 0);
  CHECK_THAT(said.out, ContainsSubstring("that is, in the holes:"));
  CHECK_THAT(folder.read("holes.svg"), ContainsSubstring("at 330 deg"));
  CHECK_THAT(folder.read("holes.svg"), ContainsSubstring("at 300 deg"));
}

TEST_CASE("balance: a grade that is kept already is said first") {
  const auto said = run_program("balance --z0 0.2@10deg --z1 3@60deg --trial 2g@30mm "
                                "--grade 6.3 --speed 1000rpm --mass 500g");
  REQUIRE(said.status == 0);
  CHECK(said.out.starts_with("The grade is kept already: no mass is needed"));
}
