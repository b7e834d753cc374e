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
  CHECK_THAT(said.err, ContainsSubstring("wider than the spindle: under 1.5 mm")); // hole of 3 mm
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
  for (const char* speed : {"0rpm", "-5rpm"}) {
    const auto said = run_program("blank " + folder.path("b.json") + " --speed=" + speed);
    CHECK(said.status == 3);
    CHECK_THAT(said.err, ContainsSubstring("--speed: the speed is"));
  }
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

namespace {

const std::string kTree = WHIRLER_SOURCE_DIR;

std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

/// A notebook in which runs of the simulated bench, or of one like it, are kept.
struct Bench {
  TestFolder folder;
  std::string profile = folder.write("p.json", R"({"kind":"profile","format":1,"steps":[
        {"name":"slow","speed_rpm":500,"ramp_rpm_s":400,"dwell_s":4},
        {"name":"fast","speed_rpm":1500,"ramp_rpm_s":400,"dwell_s":6}],"stop":{"ramp_rpm_s":1000}})");
  std::string notebook = " --notebook " + folder.path("n.db");
  std::string misdrilled = kTree + "/profiles/blanks/rain_gauge_misdrilled.json";
  std::string bench = kTree + "/profiles/machines/bench_simulated.json";

  /// The bench with one thing about it changed.
  [[nodiscard]] std::string other(const std::string& from, const std::string& to) const {
    std::ifstream file(bench);
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    return folder.write("other.json", with(text, from, to));
  }
  int run(const std::string& machine, const std::string& blank, const std::string& on = "") const {
    const auto ran =
        run_program("run " + (on.empty() ? profile : on) + " --machine " + machine +
                    (blank.empty() ? "" : " --blank " + blank) +
                    " --simulate --speed-up 100 --lid-closed --seed 3 --json" + notebook);
    CAPTURE(ran.err);
    REQUIRE(ran.json()["coat"].is_number());
    return ran.json()["coat"].get<int>();
  }
  [[nodiscard]] Said hole(const std::string& blank, const std::string& machine, int coat,
                          const std::string& more = "") const {
    return run_program("blank " + blank + " --machine " + machine + " --json --coat " +
                       std::to_string(coat) + notebook + more);
  }
};

} // namespace

TEST_CASE("blank: a run without an index mark, or seen from the sprung body, tells no direction") {
  const Bench bench;
  const std::string blind = bench.other("\"index\": true", "\"index\": false");
  const int no_index = bench.run(blind, bench.misdrilled);
  const auto first = bench.hole(bench.misdrilled, blind, no_index);
  CHECK(first.status == 3);
  CHECK_THAT(first.json()["fault"]["next"].get<std::string>(), ContainsSubstring("index"));

  const std::string rides = bench.other("\"ground\"", "\"sprung\"");
  const int sprung = bench.run(rides, bench.misdrilled);
  const auto second = bench.hole(bench.misdrilled, rides, sprung);
  CHECK(second.status == 3);
  CHECK_THAT(second.json()["fault"]["what"].get<std::string>(), ContainsSubstring("sprung body"));
  const auto jitter = run_program("jitter " + std::to_string(sprung) + " --json" + bench.notebook);
  CHECK(jitter.json()["verdict"] == "cannot_tell");
  CHECK(jitter.json()["unbalance_g_mm"].is_null());
  CHECK_THAT(jitter.err, !ContainsSubstring("Unbalance:"));
}

TEST_CASE("blank: another machine's direction or another plate than the record's is refused") {
  const Bench bench;
  const int coat = bench.run(bench.bench, bench.misdrilled);
  CHECK(bench.hole(bench.misdrilled, bench.bench, coat).status == 0);
  const auto mirrored = bench.hole(bench.misdrilled, bench.other("\"cw\"", "\"ccw\""), coat);
  CHECK(mirrored.status == 3);
  CHECK_THAT(mirrored.json()["fault"]["what"].get<std::string>(),
             ContainsSubstring("counter-clockwise"));
  const auto disc = bench.hole(kTree + "/profiles/blanks/witness_disc.json", bench.bench, coat);
  CHECK(disc.status == 3);
  CHECK_THAT(disc.json()["fault"]["what"].get<std::string>(), ContainsSubstring("another plate"));
  // Turned over, it lies as a mirror image of its drawing.
  const auto lying = bench.hole(bench.misdrilled, bench.bench, coat, " --turned-over");
  CHECK(lying.status == 0);
  CHECK_THAT(lying.err, ContainsSubstring("deg on the drawing"));
  CHECK_THAT(lying.err, ContainsSubstring("as the plate lies"));
}

TEST_CASE("blank: a baseline that takes nothing off is refused, one that does may leave nothing") {
  const Bench bench;
  const std::string disc = kTree + "/profiles/blanks/witness_disc.json";
  const int even = bench.run(bench.bench, disc);
  const int bare = bench.run(bench.bench, "");
  const int slow = bench.run(bench.bench, "", bench.folder.write("slow.json", R"({"kind":"profile",
    "format":1,"steps":[{"name":"slow","speed_rpm":500,"ramp_rpm_s":400,"dwell_s":8}],
    "stop":{"ramp_rpm_s":1000}})"));
  const auto unused = bench.hole(disc, bench.bench, even, " --baseline " + std::to_string(slow));
  CHECK(unused.status == 3);
  CHECK_THAT(unused.json()["fault"]["what"].get<std::string>(),
             ContainsSubstring("baseline takes nothing off"));
  const auto nothing = bench.hole(disc, bench.bench, even, " --baseline " + std::to_string(bare));
  CAPTURE(nothing.err);
  REQUIRE(nothing.status == 0);
  CHECK(nothing.json()["hole_from_run"]["shown"] == false);
  CHECK(nothing.json()["offset_mm"].get<double>() == Approx(0.0).margin(1e-9));
  CHECK(nothing.json()["hole_from_run"]["uncertainty_mm"].get<double>() < 0.2);
  CHECK_THAT(nothing.err, ContainsSubstring("nothing off that coat"));
}

TEST_CASE("blank: on a long plate the way is told along its edges, not by a far corner's name") {
  const auto said = run_program("blank " + kTree + "/profiles/blanks/soil_probe.json --json");
  REQUIRE(said.status == 0);
  const double heavy = said.json()["heavy_side_deg"].get<double>();
  CAPTURE(said.err);
  REQUIRE(heavy > 220.0); // 77 % would stay, moved straight to the edge that has its name
  REQUIRE(heavy < 230.0);
  CHECK_THAT(said.err, ContainsSubstring("mm to the left and"));
  CHECK_THAT(said.err, ContainsSubstring("towards you"));
  CHECK_THAT(said.err, !ContainsSubstring("towards the "));
  const auto shift = said.json()["cures"]["shift"];
  CHECK(std::hypot(shift["by_xy_mm"][0].get<double>(), shift["by_xy_mm"][1].get<double>()) ==
        Approx(shift["by_mm"].get<double>()));
}

TEST_CASE("blank: options of a run are not left unused where there is no run") {
  const TestFolder folder;
  const std::string words = "blank " + folder.write("b.json", kGlass);
  for (const char* option : {" --turned-over", " --plate-at 30deg", " --baseline 3"}) {
    CAPTURE(option);
    const auto said = run_program(words + option);
    CHECK(said.status == 2);
    CHECK_THAT(said.err, ContainsSubstring("--coat"));
  }
}

TEST_CASE("blank: edge distances that disagree by more than the hole is off tell no direction") {
  const TestFolder folder;
  const std::string plate = R"({"kind":"blank","format":1,"outline":{"rectangle_mm":[100,80]},
    "thickness_mm":1.6,"copper_um":[35,35],"hole":{"diameter_mm":4},"edge_distances_mm":[)";
  const auto vague =
      run_program("blank " + folder.write("b.json", plate + "48.1,48.3,38,38]}") + " --json");
  CAPTURE(vague.err);
  REQUIRE(vague.status == 0);
  CHECK(vague.json()["direction_told"] == false);
  CHECK(vague.json()["offset_uncertainty_mm"].get<double>() == Approx(0.2));
  CHECK_THAT(vague.err, ContainsSubstring("direction not told"));
  CHECK_THAT(vague.err, !ContainsSubstring("shift the plate"));
  const auto hardly = // 0.3 mm off, good to 0.2 mm: the way could be 40 degrees wrong
      run_program("blank " + folder.write("h.json", plate + "47.9,48.5,38,38]}") + " --json");
  CHECK(hardly.json()["direction_told"] == false);
  const auto sure =
      run_program("blank " + folder.write("c.json", plate + "47,49,38,38]}") + " --json");
  CHECK(sure.json()["direction_told"] == true);
  CHECK_THAT(sure.err, ContainsSubstring("shift the plate"));
}

TEST_CASE("blank: cures that cannot be done have no number, and a rim that is none is refused") {
  const TestFolder folder;
  const std::string glass = folder.write("b.json", kGlass);
  CHECK(run_program("blank " + glass + " --rim 1.5mm").status == 3); // the hole's own radius
  CHECK(run_program("blank " + glass + " --rim 900mm").status == 3);
  // A notch where the new hole would have to be, and a tiny rim.
  const auto u = folder.write("u.json", R"({"kind":"blank","format":1,"thickness_mm":1.6,
    "outline":{"polygon_mm":[[0,0],[90,0],[90,80],[60,80],[60,20],[30,20],[30,80],[0,80]]},
    "copper_um":[35,35],"hole":{"diameter_mm":4,"at_mm":[45,5]}})");
  const auto said = run_program("blank " + u + " --machine " + folder.write("m.json", kMachine) +
                                " --rim 3mm --json");
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  CHECK(said.json()["cures"]["redrill"]["has_material"] == false);
  CHECK_THAT(said.err, ContainsSubstring("no new hole"));
  CHECK_THAT(said.err, ContainsSubstring("no counter-mass"));
  CHECK_THAT(said.err, !ContainsSubstring("drill a new blank"));
  CHECK(said.json()["max_speed_rpm"].get<double>() < 200.0); // the machine's least
  CHECK_THAT(said.err, ContainsSubstring("no running slower"));
}

TEST_CASE("blank: a counter-mass is offered from the radius on at which it is lighter than the "
          "plate") {
  const TestFolder folder;
  const auto far = folder.write("f.json", R"({"kind":"blank","format":1,"thickness_mm":1.6,
    "outline":{"rectangle_mm":[100,80]},"copper_um":[35,35],
    "hole":{"diameter_mm":4.2,"at_mm":[40,30]}})"); // 50 mm off
  const auto open = run_program("blank " + far);
  CHECK_THAT(open.out, ContainsSubstring("on a radius under 50"));
  CHECK_THAT(run_program("blank " + far + " --rim 49mm").out, ContainsSubstring("no counter-mass"));
  CHECK_THAT(run_program("blank " + far + " --rim 51mm").out,
             ContainsSubstring("put a counter-mass of"));
  CHECK_THAT(run_program("blank " + folder.write("b.json", kGlass)).out,
             !ContainsSubstring("on a radius under"));
}

TEST_CASE("blank: much energy, and drag over the motor's torque, are cautions") {
  const TestFolder folder;
  const auto said =
      run_program("blank " + folder.write("big.json", R"({"kind":"blank","format":1,
    "outline":{"rectangle_mm":[1000,800]},"thickness_mm":1.6,"copper_um":[35,35],
    "hole":{"diameter_mm":4,"at_mm":[0,0]}})") +
                  " --machine " + kTree + "/profiles/machines/bench_simulated.json --json");
  REQUIRE(said.status == 0);
  CHECK(said.json()["cautions"].size() == 3);
  CHECK_THAT(said.err, ContainsSubstring("more than the motor's 0.1 N m"));
  CHECK_THAT(said.err, !ContainsSubstring("any speed,"));
}
