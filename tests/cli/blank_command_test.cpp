#include "catch.hpp"
#include "run_program.hpp"

#include <cmath>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

/// 50 x 75 x 1 mm of density 2500 kg/m3, its hole 2 mm off.
constexpr auto kGlass = R"({"kind":"blank","format":1,"name":"Glass slip",
  "outline":{"rectangle_mm":[50,75]},"thickness_mm":1,"copper_um":[0,0],
  "laminate_density_g_cm3":2.5,"hole":{"diameter_mm":3,"at_mm":[2,0]}})";

constexpr auto kMachine = R"({"kind":"machine","format":1,"drive":{"type":"simulated"},
  "direction":"ccw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,"sensor_on":"ground"},
  "lid":"switch","air":"open","limits":{"speed_rpm":6000,"speed_min_rpm":200,"ramp_rpm_s":3000,
  "balance_grade_mm_s":6.3},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4}})";

} // namespace

TEST_CASE("blank: the figures of a plate that is 2 mm off, by hand") {
  const TestFolder folder;
  const auto said =
      run_program("blank " + folder.write("b.json", kGlass) + " --speed 3000rpm --json");
  REQUIRE(said.status == 0);
  const auto json = said.json();
  CHECK(json["unbalance_g_mm"].get<double>() == Approx(18.75).epsilon(1e-9));
  CHECK(json["force_N"].get<double>() == Approx(1.851).epsilon(1e-3));
  const double mass = 9.375 - 2.5e-3 * 3.14159265 * 1.5 * 1.5;
  CHECK(json["mass_g"].get<double>() == Approx(mass).epsilon(1e-9));
  CHECK(json["offset_mm"].get<double>() == Approx(18.75 / mass).epsilon(1e-9));
  CHECK(json["corner_radius_mm"].get<double>() == Approx(std::hypot(27.0, 37.5)));
  CHECK(json["max_speed_rpm"].is_null());
  CHECK_THAT(said.out, ContainsSubstring("\"speed_rpm\": 3000.0,")); // no bits of a conversion
  CHECK_THAT(said.err, ContainsSubstring("towards the left edge"));
}

TEST_CASE("blank: with a machine, the highest speed that its grade allows") {
  const TestFolder folder;
  const auto said = run_program("blank " + folder.write("b.json", kGlass) + " --machine " +
                                folder.write("m.json", kMachine) + " --rim 25mm --json");
  REQUIRE(said.status == 0);
  const auto json = said.json();
  const double turning = 300.0 + json["mass_g"].get<double>();
  CHECK(json["max_speed_rpm"].get<double>() ==
        Approx(6.3 * turning / 18.75 * 60.0 / 6.283185307).epsilon(1e-6));
  CHECK(json["speed_rpm"].get<double>() == Approx(6000.0)); // the machine's highest
  CHECK(json["cures"]["counter_mass"]["mass_g"].get<double>() == Approx(0.75).epsilon(1e-9));
  // 2 mm off, in a hole of 3 mm: the spindle would have to stand outside it
  CHECK(json["cures"]["shift"]["within_hole"] == false);
  CHECK_THAT(said.err, ContainsSubstring("no shift on the hub"));
  CHECK_THAT(said.err, ContainsSubstring("1. put a counter-mass"));
  CHECK_THAT(said.err, ContainsSubstring("3. or drill a new blank"));
}

TEST_CASE("blank: the drawing is written where asked") {
  const TestFolder folder;
  const auto said =
      run_program("blank " + folder.write("b.json", kGlass) + " --svg " + folder.path("plate.svg"));
  REQUIRE(said.status == 0);
  CHECK_THAT(folder.read("plate.svg"), ContainsSubstring("Glass slip"));
  CHECK(run_program("blank " + folder.path("b.json") + " --svg /no/such/folder/p.svg").status == 3);
}

TEST_CASE("blank: what is no plate, no file or no speed ends with its own status") {
  const TestFolder folder;
  std::string far = kGlass;
  far.replace(far.find("[2,0]"), 5, "[30,0]");
  const auto outside = run_program("blank " + folder.write("far.json", far) + " --json");
  CHECK(outside.status == 3);
  CHECK(outside.json().contains("fault"));
  CHECK(run_program("blank " + folder.path("missing.json")).status == 3);
  CHECK(run_program("blank").status == 2);
  folder.write("b.json", kGlass);
  CHECK(run_program("blank " + folder.path("b.json") + " --speed 3000").status == 2);
  CHECK(run_program("blank " + folder.path("b.json") + " --speed 0rpm").status == 3);
  CHECK(run_program("blank " + folder.path("b.json") + " --rim 0mm").status == 3);
}

TEST_CASE(
    "blank: the hole's place comes back from the phase of a run, whatever the file says of it") {
  const TestFolder folder;
  const std::string tree = WHIRLER_SOURCE_DIR;
  const std::string notebook = " --notebook " + folder.path("n.db");
  const std::string machine = " --machine " + tree + "/profiles/machines/bench_simulated.json";
  const std::string profile = folder.write("p.json", R"({"kind":"profile","format":1,"steps":[
        {"name":"slow","speed_rpm":500,"ramp_rpm_s":400,"dwell_s":4},
        {"name":"fast","speed_rpm":1500,"ramp_rpm_s":400,"dwell_s":6}],"stop":{"ramp_rpm_s":1000}})");
  const std::string misdrilled = tree + "/profiles/blanks/rain_gauge_misdrilled.json";
  const auto ran = run_program("run " + profile + machine + " --blank " + misdrilled +
                               " --simulate --speed-up 100 --lid-closed --json" + notebook);
  CAPTURE(ran.err);
  REQUIRE(ran.json().contains("coat"));
  const auto truth = run_program("blank " + misdrilled + " --json").json();
  // A file that says nothing of the misdrilled hole.
  const std::string centred = folder.write("b.json", R"({"kind":"blank","format":1,
    "outline":{"rectangle_mm":[100,80]},"thickness_mm":1.6,"copper_um":[35,35],
    "hole":{"diameter_mm":4.2,"at_mm":[0,0]}})");
  const std::string ask =
      "blank " + centred + machine + " --coat " + std::to_string(ran.json()["coat"].get<int>());
  const auto found = run_program(ask + " --json" + notebook);
  CAPTURE(found.err);
  REQUIRE(found.status == 0);
  const auto json = found.json();
  const double open = json["hole_from_run"]["uncertainty_mm"].get<double>();
  CHECK(open > 0.0);
  CHECK(open < 0.3);
  for (const int axis : {0, 1}) {
    CAPTURE(axis);
    // 0.03 mm: the simulated hub's own 0.5 g mm
    CHECK(json["hole_at_mm"][axis].get<double>() ==
          Approx(truth["hole_at_mm"][axis].get<double>()).margin(open + 0.03));
  }
  CHECK_THAT(found.err, ContainsSubstring("the hole's place is from coat"));
  // Bolted on a quarter turn further, the same run puts the hole elsewhere.
  const auto turned = run_program(ask + " --plate-at 90deg --json" + notebook).json();
  CHECK(std::abs(turned["hole_at_mm"][0].get<double>() - json["hole_at_mm"][0].get<double>()) >
        open);
  CHECK(run_program("blank " + centred + " --coat 1" + notebook).status == 3); // no machine
}

TEST_CASE(
    "blank: a plate within the grade has nothing to be done, and no speed past the machine's") {
  const TestFolder folder;
  const std::string words = "blank " +
                            folder.write("b.json", R"({"kind":"blank","format":1,"thickness_mm":1.6,
        "copper_um":[35,35],"outline":{"rectangle_mm":[100,80]},
        "hole":{"diameter_mm":4,"at_mm":[0.05,0.02]}})") +
                            " --machine " + folder.write("m.json", kMachine) + " --json";
  const auto said = run_program(words);
  REQUIRE(said.status == 0);
  CHECK(said.json()["max_speed_rpm"].get<double>() > 6000.0);
  CHECK_THAT(said.err, ContainsSubstring("Nothing has to be done: the grade is kept at 6000 rpm"));
  CHECK_THAT(said.err, ContainsSubstring("(the machine ends at 6000 rpm)"));
  CHECK_THAT(said.err, !ContainsSubstring("run slower"));
  CHECK_THAT(said.err, !ContainsSubstring("above the machine's limit"));
  const auto fast = run_program(words + " --speed 20000rpm");
  CHECK_THAT(fast.err, ContainsSubstring("20000 rpm is above the machine's limit of 6000 rpm"));
  CHECK(fast.json()["cautions"].size() == 2);
}

TEST_CASE("blank: a direction that is only rounding away from the axis is written as 0 deg") {
  const TestFolder folder;
  const auto said = run_program("blank " + folder.write("b.json", kGlass) + " --rim 25mm");
  REQUIRE(said.status == 0);
  CHECK_THAT(said.out, ContainsSubstring("right edge (0 deg)"));
  CHECK_THAT(said.out, !ContainsSubstring("e-1"));
}
