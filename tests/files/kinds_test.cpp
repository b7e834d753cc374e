// Good files become the values that they describe, every optional form among them.
#include "files_scene.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>

using namespace whirler;
using namespace whirler::files;

TEST_CASE("profile file: steps by slope and by time, and the stop") {
  const auto read = read_profile(kProfile, "f");
  REQUIRE(read.ok());
  CHECK(read->name == "thin");
  REQUIRE(read->steps.size() == 2);
  CHECK(read->steps[0].speed.rpm() == Approx(500));
  CHECK(std::get<Ramp>(read->steps[0].approach).rpm_per_s() == Approx(500));
  CHECK(std::get<Duration>(read->steps[1].approach).s() == Approx(2.5));
  CHECK(read->steps[1].dwell.s() == Approx(45));
  CHECK(read->stop_ramp.rpm_per_s() == Approx(1000));
}

TEST_CASE("profile file: names may be left out, a jump and a step at rest are accepted") {
  const auto read = read_profile(R"({"kind":"profile","format":1,"steps":[
    {"speed_rpm":0,"ramp_s":0,"dwell_s":10},{"speed_rpm":3000,"ramp_s":0,"dwell_s":30}],
    "stop":{"ramp_rpm_s":500}})",
                                 "f");
  REQUIRE(read.ok());
  CHECK(read->name.empty());
  CHECK(std::get<Duration>(read->steps[1].approach) == Duration{});
}

TEST_CASE("resist file: the label, and all that may be added to it") {
  const auto plain = read_resist(kResist, "f");
  REQUIRE(plain.ok());
  CHECK(plain->resist.viscosity.mPa_s() == Approx(25));
  CHECK(plain->resist.viscosity_at.celsius() == Approx(23));
  CHECK(plain->resist.density.g_per_cm3() == Approx(1.02));
  CHECK(plain->resist.solids_density.g_per_cm3() == Approx(1.2));
  REQUIRE(plain->resist.solvents.size() == 1);
  CHECK(plain->resist.solvents[0].name == "pgmea");
  CHECK_FALSE(plain->resist.activation_energy);
  CHECK(plain->wedges.empty());

  const auto full =
      read_resist(with(kResist, "\"solvent\":\"pgmea\"",
                       R"("solvent":"pgmea","activation_energy_kJ_mol":28,"chi":0.4,"martin_k":0.35,
      "power_law":{"n":0.8,"kappa_Pa_sn":1.5},"witness":[{"speed_rpm":3000,"thickness_um":1.62}],
      "wedge":{"irradiance_mW_cm2":8,"time_s":20,"film_um":5,
               "steps":[{"density":0.15,"left_um":3.1},{"density":0.3,"left_um":2.2}]})"),
                  "f");
  REQUIRE(full.ok());
  CHECK(full->resist.activation_energy->kJ_per_mol() == Approx(28));
  CHECK(*full->resist.chi == 0.4);
  CHECK(*full->resist.martin_k == 0.35);
  CHECK(full->resist.power_law->n == 0.8);
  CHECK(full->resist.witnesses.at(0).thickness.um() == Approx(1.62));
  REQUIRE(full->wedges.size() == 1);
  CHECK(full->wedges[0].irradiance.mW_per_cm2() == Approx(8));
  CHECK(full->wedges[0].steps.at(1).left.um() == Approx(2.2));
}

TEST_CASE("resist file: a mixture's shares come back summing to one, as labels round them") {
  const auto read = read_resist(with(kResist, "\"pgmea\"", R"([{"name":"pgmea","mass_share":0.667},
        {"name":"ethyl_lactate","mass_share":0.332}])"),
                                "f");
  REQUIRE(read.ok());
  REQUIRE(read->resist.solvents.size() == 2);
  CHECK(read->resist.solvents[0].mass_share + read->resist.solvents[1].mass_share ==
        Approx(1.0).epsilon(1e-15));
  CHECK(read->resist.solvents[0].mass_share == Approx(0.667 / 0.999));
}

TEST_CASE("resist file: solvent null with solids 1 is a liquid that does not dry") {
  const auto read = read_resist(R"({"kind":"resist","format":1,"viscosity_mPa_s":1000,
    "density_g_cm3":1.1,"solids_mass_fraction":1,"solvent":null})",
                                "f");
  REQUIRE(read.ok());
  CHECK_FALSE(read->resist.dries());
  CHECK(read->resist.viscosity_at.celsius() == Approx(25));
  CHECK(read->resist.solids_density == read->resist.density);
}

TEST_CASE("blank file: every outline") {
  const auto rectangle = read_blank(kBlank, "f");
  REQUIRE(rectangle.ok());
  CHECK(std::get<blank::Rectangle>(rectangle->outline).width.mm() == Approx(100));
  CHECK(std::get<blank::Rectangle>(rectangle->outline).height.mm() == Approx(80));
  CHECK(rectangle->copper[1].um() == Approx(18));
  CHECK(rectangle->laminate_density.g_per_cm3() == Approx(1.9));
  CHECK(rectangle->hole.at.x.mm() == Approx(0.6));
  CHECK(rectangle->hole.at.y.mm() == Approx(-0.3));
  const auto disc = read_blank(with(kBlank, "\"rectangle_mm\":[100,80]", "\"disc_mm\":90"), "f");
  REQUIRE(disc.ok());
  CHECK(std::get<blank::Disc>(disc->outline).diameter.mm() == Approx(90));
  const auto polygon = read_blank(
      with(kBlank, "\"rectangle_mm\":[100,80]", "\"polygon_mm\":[[-20,-10],[30,-10],[0,40]]"), "f");
  REQUIRE(polygon.ok());
  REQUIRE(std::get<blank::Polygon>(polygon->outline).corners.size() == 3);
  CHECK(std::get<blank::Polygon>(polygon->outline).corners[2].y.mm() == Approx(40));
}

TEST_CASE("blank file: other holes, and the hole's place by edge distances in either place") {
  const auto holes = read_blank(
      with(kBlank, "\"hole\"", R"("holes":[{"diameter_mm":3,"at_mm":[40,30]}],"hole")"), "f");
  REQUIRE(holes.ok());
  CHECK(holes->holes.at(0).at.x.mm() == Approx(40));
  const std::string inside =
      with(kBlank, "\"at_mm\":[0.6,-0.3]", "\"edge_distances_mm\":[48.5,47.3,37.6,38.2]");
  const std::string beside = with(kBlank, "\"hole\":{\"diameter_mm\":4.2,\"at_mm\":[0.6,-0.3]}",
                                  "\"hole\":{\"diameter_mm\":4.2},"
                                  "\"edge_distances_mm\":[48.5,47.3,37.6,38.2]");
  for (const std::string& text : {inside, beside}) {
    CAPTURE(text);
    const auto read = read_blank(text, "f");
    REQUIRE(read.ok());
    REQUIRE(read->edges);
    CHECK(read->edges->left.mm() == Approx(48.5));
    CHECK(read->hole.at.x.mm() == Approx(0.6));
    CHECK(read->hole.at.y.mm() == Approx(-0.3));
  }
}

TEST_CASE("machine file: every key") {
  const auto read = read_machine(kMachine, "f");
  REQUIRE(read.ok());
  using namespace machine;
  CHECK(read->drive.type == DriveType::link);
  CHECK(read->drive.port == "/dev/ttyUSB0");
  CHECK(read->drive.baud == 115200);
  CHECK(read->direction == Direction::counterclockwise);
  CHECK(read->tach.marks_per_turn == 6);
  CHECK(read->tach.mark_radius.mm() == Approx(15));
  CHECK(read->tach.index);
  CHECK(read->tach.sensor_on == SensorOn::sprung);
  CHECK(read->lid == Lid::wired_to_drive);
  CHECK(read->air == Air::vented);
  CHECK(read->limits.speed.rpm() == Approx(6000));
  CHECK(read->limits.speed_min.rpm() == Approx(200));
  CHECK(read->limits.ramp.rpm_per_s() == Approx(3000));
  CHECK(read->limits.balance_grade->mm_per_s() == Approx(6.3));
  CHECK(read->rotor.mass.g() == Approx(300));
  CHECK(read->rotor.inertia.kg_m2() == Approx(1e-4));
  CHECK(read->motor->torque.N_m() == Approx(0.1));
  CHECK(read->motor->current == MotorCurrent::brushed);
  CHECK(read->mount->natural.Hz() == Approx(15));
  CHECK(read->mount->damping == 0.08);
  CHECK(read->mount->moving.g() == Approx(600));
  CHECK(read->jitter.watch_velocity->mm_per_s() == Approx(6.3));
  CHECK(read->jitter.stop_angle->mrad() == Approx(9));
}

TEST_CASE("machine file: limits of the unbalance may be a force, with the angle beside it") {
  std::string text = kMachine;
  const std::string velocities = R"("watch_mm_s":6.3,"stop_mm_s":40)";
  text.replace(text.find(velocities), velocities.size(), R"("watch_N":0.5,"stop_N":2.5)");
  const auto read = read_machine(text, "f");
  REQUIRE(read.ok());
  CHECK(read->jitter.watch_force->N() == Approx(0.5));
  CHECK(read->jitter.stop_force->N() == Approx(2.5));
  CHECK_FALSE(read->jitter.stop_velocity);
  CHECK(read->jitter.stop_angle->mrad() == Approx(9));
}

TEST_CASE("machine file: what may be left out") {
  const auto read = read_machine(R"({"kind":"machine","format":1,"drive":{"type":"simulated"},
    "direction":"cw","tach":{"marks_per_turn":1,"mark_radius_mm":9,"index":false,
    "sensor_on":"ground"},"lid":"none","air":"open",
    "limits":{"speed_rpm":3000,"speed_min_rpm":0,"ramp_rpm_s":500},
    "rotor":{"mass_g":100,"inertia_kg_m2":1e-5}})",
                                 "f");
  REQUIRE(read.ok());
  CHECK(read->drive.baud == 500000);
  CHECK_FALSE(read->motor);
  CHECK_FALSE(read->mount);
  CHECK_FALSE(read->jitter.stop_angle);
  CHECK_FALSE(read->limits.balance_grade);
}

TEST_CASE("any file: reads as the kind that it says it is") {
  CHECK(kind_word(*read_any(kProfile, "f")) == "profile");
  CHECK(kind_word(*read_any(kResist, "f")) == "resist");
  CHECK(kind_word(*read_any(kBlank, "f")) == "blank");
  CHECK(kind_word(*read_any(kMachine, "f")) == "machine");
}

TEST_CASE("any file: comments, a byte order mark and CR LF are no mistakes") {
  std::string text =
      "\xEF\xBB\xBF// bench\r\n" + with(kProfile, "\"steps\"", "/* all */ \"steps\"");
  CHECK(read_profile(text + " // end", "f").ok());
}

TEST_CASE("every file that is shipped can be read") {
  int read_files = 0;
  const std::filesystem::path folder = std::string(WHIRLER_SOURCE_DIR) + "/profiles";
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
    if (entry.path().extension() != ".json")
      continue;
    std::ifstream file(entry.path());
    const std::string text{std::istreambuf_iterator<char>(file), {}};
    const auto read = read_any(text, entry.path().filename().string());
    if (!read)
      for (const auto& fault : read.faults())
        UNSCOPED_INFO(to_text(fault));
    CHECK(read.ok());
    ++read_files;
  }
  CHECK(read_files >= 13);
}
