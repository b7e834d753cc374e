#include "../../src/cli/balance_record.hpp"
#include "../../src/cli/dwell_reading.hpp"
#include "catch.hpp"
#include "run_program.hpp"
#include "terminal.hpp"
#include "whirler/notebook/notebook.hpp"

#include <algorithm>
#include <cmath>

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kMachine = R"({"kind":"machine","format":1,"drive":{"type":"simulated"},
  "direction":"cw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,"sensor_on":"ground"},
  "lid":"switch","air":"open","limits":{"speed_rpm":3000,"speed_min_rpm":200,"ramp_rpm_s":2000,
  "balance_grade_mm_s":6.3},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4},
  "motor":{"torque_N_m":0.2,"current":"ac"},
  "mount":{"natural_hz":15,"damping":0.08,"moving_mass_g":600}})";
constexpr auto kPlate = R"({"kind":"blank","format":1,"outline":{"rectangle_mm":[100,80]},
  "thickness_mm":1.6,"copper_um":[35,35],"hole":{"diameter_mm":4.2,"at_mm":[0.8,0.5]}})";

/// Marks passing at `rpm` for `seconds`, late once per turn by `late` rad at mark 0.
void add_turns(tach::PulseTrain& train, double speed_rpm, double length_s, double late_rad,
               int marks) {
  double at_s =
      train.ticks.empty() ? 0.0 : static_cast<double>(train.ticks.back()) * train.tick.s();
  const double turn_s = 60.0 / speed_rpm;
  const int count = static_cast<int>(length_s / turn_s) * marks;
  for (int i = 1; i <= count; ++i) {
    const double psi = kRadPerTurn * (i % marks) / marks;
    const double t =
        at_s + turn_s * (static_cast<double>(i) / marks + late_rad * std::cos(psi) / kRadPerTurn);
    train.ticks.push_back(std::llround(t / train.tick.s()));
    train.marks.push_back(static_cast<std::int16_t>(i % marks));
  }
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

} // namespace

TEST_CASE("guided: a dwell is found among ramps, and its vector read") {
  tach::PulseTrain train;
  train.tick = microseconds(0.5);
  add_turns(train, 300.0, 8.0, 1e-3, 6);
  for (double rpm_now = 320.0; rpm_now < 900.0; rpm_now += 20.0)
    add_turns(train, rpm_now, 0.5, 1e-3, 6);
  add_turns(train, 900.0, 10.0, 3e-3, 6);
  const auto slow = dwell_reading(train, 6, rpm(300.0));
  const auto fast = dwell_reading(train, 6, rpm(900.0));
  REQUIRE(slow.ok());
  REQUIRE(fast.ok());
  CHECK(slow->amplitude.mrad() == Approx(1.0).epsilon(0.02));
  CHECK(fast->amplitude.mrad() == Approx(3.0).epsilon(0.02));
  CHECK(fast->speed.rpm() == Approx(900.0).epsilon(1e-3));
  CHECK(fast->length.s() > 8.0);
  CHECK_FALSE(dwell_reading(train, 6, rpm(2000.0)).ok());
  CHECK(dwell_pulses(train, 0, rpm(900.0)).ticks.empty());
  CHECK(dwell_pulses({}, 6, rpm(900.0)).ticks.empty());
}

TEST_CASE(
    "guided: on the simulated spinner the plate is balanced to the grade, runs in the notebook") {
  const TestFolder folder;
  const std::string book = folder.path("book.db");
  const auto said =
      run_program("balance --guided --yes --speed-up 50 --board B7 --radius 25mm --speed 2500rpm "
                  "--machine " +
                  folder.write("m.json", kMachine) + " --blank " + folder.write("b.json", kPlate) +
                  " --json --notebook " + book);
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  const auto json = said.json();
  // the plate's own unbalance (28.68 g x 0.943 mm) and the hub's half gram millimetre
  CHECK(json["unbalance"]["g_mm"].get<double>() == Approx(27.06).epsilon(0.06));
  CHECK(json["measured_under_g_mm"].get<double>() < json["permissible_g_mm"].get<double>());
  CHECK(json["grade_kept"] == true);
  REQUIRE(json["runs"].size() >= 3);
  auto notebook = notebook::Notebook::open_existing(book);
  REQUIRE(notebook.ok());
  const auto log = notebook->log();
  REQUIRE(log.ok());
  CHECK(log->size() == json["runs"].size());
  CHECK(log->back().side == "as it is");
  CHECK(log->back().board == "B7");
  // What was on stands in the side, which is on disk before anything turns, and in the notes.
  const auto trial = notebook->coat(2);
  REQUIRE(trial.ok());
  CHECK_THAT(trial->start.side, ContainsSubstring("trial "));
  REQUIRE(trial->notes.size() == 3); // what was on, what came of it, what was to be on next
  CHECK_THAT(trial->notes[1].document, ContainsSubstring("\"unbalance\""));
  CHECK_THAT(trial->notes[1].document, ContainsSubstring("\"add\""));
  CHECK_THAT(trial->notes.back().document, ContainsSubstring("\"next\""));
  const auto shown = run_program("show 2 --notebook " + book);
  CHECK_THAT(shown.out, ContainsSubstring("to add: "));
  // A plate with its trial mass, or its correction, on is still seen as the plate that it is.
  for (const int coat : {1, 2, 3}) {
    CAPTURE(coat);
    const auto hole =
        run_program("blank " + folder.path("b.json") + " --machine " + folder.path("m.json") +
                    " --json --notebook " + book + " --coat " + std::to_string(coat));
    REQUIRE(hole.status == 0);
    CHECK(hole.json()["hole_at_mm"][0].get<double>() == Approx(0.8).margin(0.06));
    CHECK(hole.json()["hole_at_mm"][1].get<double>() == Approx(0.5).margin(0.06));
    CHECK(hole.json()["hole_from_run"]["taken_off"].empty() == (coat == 1));
    const double miss = std::hypot(hole.json()["hole_at_mm"][0].get<double>() - 0.8,
                                   hole.json()["hole_at_mm"][1].get<double>() - 0.5);
    const double hub_mm = 0.5 / 28.68; // the hub's half gram millimetre on a plate of 28.68 g
    CHECK(miss < hole.json()["hole_from_run"]["uncertainty_mm"].get<double>() + hub_mm);
    CHECK_THAT(hole.err, ContainsSubstring("the hub's own unbalance is in it"));
  }
  CHECK_THAT(said.err, ContainsSubstring("Kept with what was on and what came of it: coats 1, 2"));
  CHECK_THAT(said.err, ContainsSubstring("the grade is kept at 2500 rpm"));
  const auto first = notebook->coat(1); // and that speed is the highest dwell
  REQUIRE(first.ok());
  REQUIRE_FALSE(first->start.files.empty());
  CHECK_THAT(first->start.files.front().text, ContainsSubstring("\"speed_rpm\":2500"));
}

TEST_CASE("guided: an even rotor has nothing to balance, whatever the chance of its readings") {
  const std::string tree = WHIRLER_SOURCE_DIR;
  for (const char* seed : {"2", "3", "4"}) {
    const TestFolder folder;
    const auto said = run_program(
        "balance --guided --yes --speed-up 100 --radius 20mm --speed 3000rpm --machine " + tree +
        "/profiles/machines/bench_simulated.json --blank " + tree +
        "/profiles/blanks/witness_disc.json --json --notebook " + folder.path("book.db") +
        " --seed " + seed);
    CAPTURE(seed, said.err);
    REQUIRE(said.status == 0);
    const auto json = said.json();
    CHECK(json["unbalance"]["at_most_g_mm"].get<double>() < json["permissible_g_mm"].get<double>());
    CHECK(json["runs"].size() == 2); // as it is, and the trial: no mass is needed
    CHECK_THAT(said.err, ContainsSubstring("The grade is kept already: no mass is needed"));
  }
}

TEST_CASE("guided: a tach that cannot tell the angle is refused before anything turns") {
  const TestFolder folder;
  const std::string words = "balance --guided --yes --json --notebook " + folder.path("book.db") +
                            " --machine " + folder.path("m.json");
  folder.write("m.json", replaced(kMachine, "\"marks_per_turn\":6", "\"marks_per_turn\":2"));
  CHECK(run_program(words).status == 3);
  folder.write("m.json", replaced(kMachine, "\"index\":true", "\"index\":false"));
  CHECK(run_program(words).status == 3);
  folder.write("m.json", replaced(kMachine, "\"ground\"", "\"sprung\""));
  CHECK(run_program(words).status == 3);
  folder.write("m.json", kMachine);
  CHECK(run_program(words + " --speed 300rpm").status == 3); // no room for several dwells
  // What the reckoning would refuse after two runs is refused before the first.
  for (const char* wish :
       {" --radius 0mm", " --radius 1e300mm", " --speed 99999rpm", " --trial 0g@0deg@25mm",
        " --trial 5kg@0deg@25mm", " --trial 1g@0deg@25m", " --trial 2g@0deg@0mm", " --grade 0",
        " --holes 1@25mm", " --holes 2@25mm", " --holes 6@0mm", " --holes 6@25mm --largest 0g",
        " --holes 6@25mm --step 0g"}) {
    CAPTURE(wish);
    const auto refused = run_program(words + wish);
    CHECK(refused.status == 3);
    CHECK(refused.json()["fault"]["next"].get<std::string>().size() > 5);
  }
  CHECK_FALSE(std::filesystem::exists(folder.path("book.db")));
  CHECK(run_program("balance --guided --yes").status == 2);
  CHECK(run_program(words + " --z0 1@1deg --z1 2@2deg").status == 2);
}

TEST_CASE("guided: without a terminal and without --yes nothing moves, and the flag is named") {
  const TestFolder folder;
  const auto said = run_program("balance --guided --json --notebook " + folder.path("book.db") +
                                " --machine " + folder.write("m.json", kMachine));
  CHECK(said.status == 2);
  CHECK_THAT(said.err, ContainsSubstring("--yes"));
  CHECK_FALSE(std::filesystem::exists(folder.path("book.db")));
}

namespace {

/// The run as it is, and the trial mass put on.
void up_to_trial(Terminal& person) {
  REQUIRE(person.wait_for("Enter runs"));
  person.type("");
  REQUIRE(person.wait_for("Type what you put on"));
  person.type("0.6g@90deg@25mm");
}

} // namespace

TEST_CASE("guided: at a terminal it asks before every run, and the check run shows the cure") {
  const TestFolder folder;
  const std::string words = "balance --guided --speed-up 25 --radius 25mm --json --machine " +
                            folder.write("m.json", kMachine) + " --blank " +
                            folder.write("b.json", kPlate) + " --notebook " +
                            folder.path("book.db");
  Terminal person(words);
  const auto answer = [&](const std::string& question, const std::string& typed) {
    CAPTURE(question, person.said());
    REQUIRE(person.wait_for(question));
    person.type(typed);
  };
  answer("Enter runs", "");
  for (const char* nonsense : {"heavy", "-1g@0deg@25mm", "0g@0deg@25mm", "1g@0deg@0mm",
                               "1g@1e9deg@25mm", "5kg@0deg@25mm", "1g@0deg@25m"})
    answer("Type what you put on", nonsense); // asked again
  answer("Type what you put on", "0.0001g@90deg@25mm");
  REQUIRE(person.wait_for("it pulls "));
  answer("Enter runs", "");
  REQUIRE(person.wait_for("a heavier one goes in its place"));
  answer("Type what you put on", "0.6g@90deg@25mm");
  answer("Enter runs", "");
  REQUIRE(person.wait_for("The hole is off by"));
  answer("Enter runs", "");
  REQUIRE(person.wait_for("Measured with it on"));
  while (!person.wait_for_either("the grade is kept", "over the grade"))
    answer("Enter runs", "");
  CHECK(person.finish() == 0);

  Terminal leaver(words);
  REQUIRE(leaver.wait_for("Enter runs"));
  leaver.type("q");
  CHECK(leaver.finish() == 5);
  CHECK_THAT(leaver.said(), ContainsSubstring("\"runs\": []"));

  Terminal second(words); // leaves with the trial mass on
  up_to_trial(second);
  REQUIRE(second.wait_for("Enter runs"));
  second.type("q");
  CHECK(second.finish() == 5);
  CHECK_THAT(second.said(), ContainsSubstring("The trial mass may still be on: 0.6g@90deg@25mm"));
  CHECK_THAT(second.said(), ContainsSubstring("Kept with what was on"));
}

TEST_CASE(
    "guided: trial and correction that may be on are told apart, and recalled at the next start") {
  const TestFolder folder;
  const std::string words = "balance --guided --speed-up 25 --radius 25mm --json --machine " +
                            folder.write("m.json", kMachine) + " --blank " +
                            folder.write("b.json", kPlate) + " --notebook " +
                            folder.path("book.db");
  Terminal third(words); // leaves when told to put the correction on
  up_to_trial(third);
  REQUIRE(third.wait_for("RUN 2"));
  third.type("");
  REQUIRE(third.wait_for("RUN 3"));
  third.type("q");
  CHECK(third.finish() == 5);
  CHECK_THAT(third.said(), ContainsSubstring("The trial mass may still be on: 0.6g@90deg@25mm. "));
  CHECK_THAT(third.said(), ContainsSubstring("The correction may be on: "));

  Terminal fourth(words); // whoever comes back is reminded of it
  REQUIRE(fourth.wait_for("RUN 1"));
  fourth.type("q");
  CHECK(fourth.finish() == 5);
  CHECK_THAT(fourth.said(), ContainsSubstring(", had 0.6g@90deg@25mm on"));
}

TEST_CASE("guided: Enter pressed while a run turns answers no question, and starts no motor") {
  const TestFolder folder;
  Terminal person("balance --guided --speed-up 25 --radius 25mm --json --machine " +
                  folder.write("m.json", kMachine) + " --blank " + folder.write("b.json", kPlate) +
                  " --notebook " + folder.path("book.db"));
  REQUIRE(person.wait_for("Enter runs"));
  person.type("");
  REQUIRE(person.wait_for("ramping"));
  for (int i = 0; i < 4; ++i)
    person.type("");
  REQUIRE(person.wait_for("Type what you put on"));
  person.type("q");
  CHECK(person.finish() == 5);
  CHECK_THAT(person.said(), !ContainsSubstring("RUN 2"));
}

TEST_CASE(
    "guided: over the grade at the end says what is still to be added, and draws what it found") {
  const TestFolder folder;
  const auto said = run_program(
      "balance --guided --yes --speed-up 100 --radius 25mm --speed 2500rpm --holes 4@25mm "
      "--step 1.5g --machine " +
      folder.write("m.json", kMachine) + " --blank " + folder.write("b.json", kPlate) +
      " --json --notebook " + folder.path("book.db") + " --svg " + folder.path("found.svg"));
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  REQUIRE(said.json()["measured_g_mm"].get<double>() >
          said.json()["permissible_g_mm"].get<double>());
  CHECK_THAT(said.err, ContainsSubstring("over the grade"));
  CHECK_THAT(said.err, ContainsSubstring("No hole takes a mass"));
  CHECK_THAT(said.err, ContainsSubstring("balance --guided once more"));
  CHECK(said.json()["still_to_add"].size() == 1);
  CHECK_THAT(said.err, !ContainsSubstring("360 deg"));
  CHECK_THAT(folder.read("found.svg"), ContainsSubstring("now, heavy side"));
}

TEST_CASE("guided: on a mount too stiff for its speeds no grade is said to be kept") {
  const TestFolder folder;
  const auto machine =
      replaced(replaced(replaced(kMachine, "\"natural_hz\":15", "\"natural_hz\":80"),
                        "\"speed_rpm\":3000", "\"speed_rpm\":6000"),
               "6.3", "2.5");
  const auto said =
      run_program("balance --guided --yes --speed-up 100 --radius 25mm --machine " +
                  folder.write("m.json", machine) + " --blank " + folder.write("b.json", kPlate) +
                  " --json --notebook " + folder.path("book.db"));
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  CHECK(said.json()["grade_kept"].is_null());
  CHECK(said.json()["measured_under_g_mm"].get<double>() >
        said.json()["permissible_g_mm"].get<double>());
  CHECK_THAT(said.err, ContainsSubstring("cannot tell whether it is kept"));
  CHECK_THAT(said.err, !ContainsSubstring("the grade is kept at 6000 rpm"));
}

TEST_CASE("guided: a hole is told to take no more than it may, and none is told twice") {
  const TestFolder folder;
  const auto said =
      run_program("balance --guided --yes --speed-up 100 --radius 25mm --speed 2500rpm "
                  "--grade 0.1 --trial 0.05g@200deg@25mm --holes 12@25mm --step 0.05g "
                  "--largest 0.5g --machine " +
                  folder.write("m.json", kMachine) + " --blank " + folder.write("b.json", kPlate) +
                  " --json --notebook " + folder.path("book.db"));
  CAPTURE(said.err);
  REQUIRE(said.json()["masses"].size() >= 3); // 27 g mm are more than two holes take
  for (const auto& mass : said.json()["masses"])
    CHECK(mass["mass_g"].get<double>() < 0.501);
  std::vector<double> angles;
  for (const auto& mass : said.json()["masses"])
    angles.push_back(mass["angle_deg"].get<double>());
  std::sort(angles.begin(), angles.end());
  CHECK(std::adjacent_find(angles.begin(), angles.end()) == angles.end()); // no hole is told twice
}

TEST_CASE("guided: --yes is for the simulated spinner: no motor turns unasked") {
  const TestFolder folder;
  const auto machine = replaced(kMachine, R"({"type":"simulated"})",
                                R"({"type":"link","port":"/dev/null","baud":500000})");
  const auto said =
      run_program("balance --guided --yes --machine " + folder.write("m.json", machine) +
                  " --notebook " + folder.path("book.db"));
  CHECK(said.status == 2);
  CHECK_THAT(said.err, ContainsSubstring("leave --yes out"));
}

TEST_CASE("guided: masses that were on are read out of the record, or their lack is said") {
  const balance::PlacedMass first{grams(0.1), degrees(300.0), millimetres(25.0)};
  const balance::PlacedMass second{grams(2.3), degrees(330.0), millimetres(25.0)};
  notebook::Coat coat;
  coat.start.profile = kBalanceProfile;
  coat.start.side = "as it is";
  REQUIRE(masses_on(coat).ok());
  CHECK(masses_on(coat)->empty());
  coat.start.side = balance_side({"correction", {first, second}});
  CHECK(coat.start.side == "correction 0.1g@300deg@25mm + 2.3g@330deg@25mm");
  REQUIRE(masses_on(coat).ok());
  CHECK(masses_on(coat)->size() == 2);
  CHECK(masses_on(coat)->back().mass.g() == Approx(2.3));
  coat.start.side = "correction 1"; // of an older program: how heavy it was nobody knows
  CHECK_FALSE(masses_on(coat).ok());
  coat.notes.push_back(
      {{}, kBalanceNote, "", {}, "", balance_document({"correction", {first}}).dump()});
  REQUIRE(masses_on(coat).ok());
  CHECK(masses_on(coat)->front().at.deg() == Approx(300.0));
  coat.notes.back().document = "{\"run\":1,\"masses_on\":[{\"mass_g\":\"x\"}]}";
  CHECK_FALSE(masses_on(coat).ok());
  CHECK(balance_text(Json::parse(coat.notes.back().document)).empty());
}
