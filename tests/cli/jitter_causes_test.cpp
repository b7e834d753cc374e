// Which cause `whirler jitter` names: simulated spinners with one thing wrong at a time, several
// strengths and mark counts, their pulses written to tables and read by the program.
#include "catch.hpp"
#include "run_program.hpp"
#include "tach/plant_run.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <set>
#include <string>
#include <vector>

using namespace whirler;
using namespace whirler::cli;
using plant::segment;

namespace {

/// One thing wrong with an otherwise even spinner: 500 rpm, then 3000, on a 15 Hz mount.
struct Ill {
  machine::Machine machine = plant::plain_machine();
  plant::Unknowns unknowns;
  std::function<void(plant::Setup&)> worsen = [](plant::Setup&) {};
  std::vector<link::Segment> segments{segment(0, 500, 400, 4), segment(1, 3000, 400, 8)};
};

Ill even_spinner(int marks) {
  Ill ill;
  ill.machine.tach.marks_per_turn = marks;
  ill.unknowns.hub_unbalance = gram_millimetres(0);
  ill.unknowns.pitch_rms = milliradians(0);
  ill.unknowns.seed = 5;
  return ill;
}

std::string machine_text(const machine::Machine& m) {
  const auto number = [](double value) { return std::to_string(value); };
  return R"({"kind":"machine","format":1,"drive":{"type":"simulated"},"direction":"cw","tach":{"marks_per_turn":)" +
         std::to_string(m.tach.marks_per_turn) +
         R"(,"mark_radius_mm":15,"index":true,"sensor_on":")" +
         (m.tach.sensor_on == machine::SensorOn::sprung ? "sprung" : "ground") +
         R"("},"lid":"switch","air":"open","limits":{"speed_rpm":6000,"speed_min_rpm":200,"ramp_rpm_s":3000},)"
         R"("rotor":{"mass_g":300,"inertia_kg_m2":1e-4},"mount":{"natural_hz":)" +
         number(m.mount->natural.Hz()) + R"(,"damping":)" + number(m.mount->damping) +
         R"(,"moving_mass_g":)" + number(m.mount->moving.g()) +
         R"(},"jitter":{"watch_mm_s":6.3,"stop_mm_s":25}})";
}

/// As a logger with a 24-bit timer writes it.
std::string table_of(const tach::PulseTrain& train, bool numbered) {
  std::string text = numbered ? "ticks,mark\n" : "ticks\n";
  for (std::size_t i = 0; i < train.size(); ++i)
    text += std::to_string(train.ticks[i] & 0xffffff) +
            (!numbered            ? std::string()
             : train.marks[i] < 0 ? std::string(",")
                                  : "," + std::to_string(train.marks[i])) +
            "\n";
  return text;
}

struct Answer {
  nlohmann::json json;
  std::set<std::string> causes;
  [[nodiscard]] bool names(const std::string& cause) const { return causes.count(cause) > 0; }
  [[nodiscard]] std::string verdict() const { return json.at("verdict").get<std::string>(); }
};

Answer ask(const Ill& ill, bool numbered = true) {
  const TestFolder folder;
  auto setup = plant::make_setup(ill.machine, std::nullopt, ill.unknowns).value();
  ill.worsen(setup);
  const auto train = plant_run::pulses_of(setup, ill.segments, rpm_per_s(400));
  const auto said = run_program("jitter --json --pulses " +
                                folder.write("pulses.csv", table_of(train, numbered)) +
                                " --machine " + folder.write("m.json", machine_text(ill.machine)) +
                                " --tick 0.5us --tick-bits 24");
  CAPTURE(said.err);
  REQUIRE((said.status == 0 || said.status == 6));
  Answer out{said.json(), {}};
  for (const auto& cause : out.json.at("causes"))
    out.causes.insert(cause.at("cause").get<std::string>());
  return out;
}

Ill with_unbalance(int marks, double g_mm) {
  Ill ill = even_spinner(marks);
  ill.unknowns.hub_unbalance = gram_millimetres(g_mm);
  return ill;
}

Ill with_cogging(int marks, int per_turn, double mN_m) {
  Ill ill = even_spinner(marks);
  ill.worsen = [=](plant::Setup& s) {
    s.spinner.cogging = millinewton_metres(mN_m);
    s.spinner.cogging_per_turn = per_turn;
  };
  return ill;
}

} // namespace

TEST_CASE("causes: an even spinner is called even, and nothing is named") {
  const int marks = GENERATE(3, 6, 24, 60);
  CAPTURE(marks);
  const Answer a = ask(even_spinner(marks));
  CHECK(a.verdict() == "even");
  CHECK(a.causes.empty());
}

TEST_CASE("causes: a hole off its centre is named and weighed, whatever its size and the marks") {
  const int marks = GENERATE(3, 6, 24, 60);
  const double g_mm = GENERATE(3.0, 10.0, 40.0);
  CAPTURE(marks, g_mm);
  Ill ill = with_unbalance(marks, g_mm);
  ill.unknowns.pitch_rms = milliradians(5);
  const Answer a = ask(ill);
  CHECK(a.names("off_centre"));
  CHECK_FALSE(a.names("out_of_plumb"));
  CHECK_FALSE(a.names("loop_answers_marks"));
  CHECK_FALSE(a.names("loose_plate"));
  CHECK_FALSE(a.names("hunting"));
  CHECK(a.json.at("unbalance_g_mm").at("estimate").get<double>() == Approx(g_mm).epsilon(0.15));
  CHECK(a.verdict() == (g_mm > 30 ? "stop" : g_mm > 8 ? "watch" : "even"));
}

TEST_CASE("causes: uneven marks and an eccentric mark disc are no unbalance") {
  const int marks = GENERATE(3, 6, 24, 60);
  const double mrad = GENERATE(2.0, 8.0);
  const bool eccentric = GENERATE(false, true);
  CAPTURE(marks, mrad, eccentric);
  Ill ill = even_spinner(marks);
  ill.worsen = [=](plant::Setup& s) {
    s.marks.pitch_error = plant::workshop_pattern(marks, milliradians(mrad), 4);
    for (int k = 0; eccentric && k < marks; ++k)
      s.marks.pitch_error[static_cast<std::size_t>(k)] =
          milliradians(mrad * std::cos(2.0 * std::numbers::pi * k / marks - 0.7));
  };
  const Answer a = ask(ill);
  CHECK(a.verdict() == "even");
  CHECK_FALSE(a.names("off_centre"));
  CHECK(a.names(marks == 3 ? "uneven_marks_or_cogging" : "uneven_marks"));
  CHECK(a.causes.size() == 1);
}

TEST_CASE("causes: a motor that cogs is told from marks and plate, twelve times a turn too") {
  struct Case {
    int marks;
    int per_turn;
    double mN_m;
  };
  for (const Case c :
       {Case{6, 2, 3}, {6, 4, 10}, {24, 2, 10}, {24, 4, 3}, {60, 4, 3}, {60, 12, 10}}) {
    CAPTURE(c.marks, c.per_turn, c.mN_m);
    const Answer a = ask(with_cogging(c.marks, c.per_turn, c.mN_m));
    INFO(a.json.dump());
    CHECK(a.names("cogging"));
    CHECK_FALSE(a.names("off_centre"));
    CHECK_FALSE(a.names("hunting"));
    CHECK(a.verdict() == "even");
  }
  // Once a turn less than there are marks it looks like order 1 and falls with speed squared.
  const Answer alias = ask(with_cogging(3, 2, 10));
  CHECK(alias.names("loop_answers_marks"));
  CHECK(alias.json.dump().find("the motor cogs 2 or 4 times a turn") != std::string::npos);
  CHECK_FALSE(alias.names("off_centre"));
}

TEST_CASE("causes: a speed that wanders is neither cogging nor marks nor a plate") {
  const int marks = GENERATE(6, 24, 60);
  CAPTURE(marks);
  Ill ill = even_spinner(marks);
  ill.worsen = [](plant::Setup& s) { s.load.rms = millinewton_metres(5); };
  const Answer a = ask(ill);
  for (const auto& cause : a.causes)
    CHECK(cause == "hunting"); // named where it is at one frequency
  CHECK((a.verdict() == "even" || a.verdict() == "cannot_tell"));
}

TEST_CASE("causes: dropped pulses are counted, and are no plate") {
  const int marks = GENERATE(6, 24);
  const bool numbered = GENERATE(true, false);
  CAPTURE(marks, numbered);
  Ill ill = even_spinner(marks);
  ill.unknowns.pitch_rms = milliradians(3);
  ill.worsen = [](plant::Setup& s) { s.faults = {plant::parse_fault("drop=300@5s").value()}; };
  const Answer a = ask(ill, numbered);
  CAPTURE(a.json.at("reason"), a.json.at("mount"), a.json.at("once_per_turn"));
  CHECK(a.names("dropped_pulses"));
  CHECK_FALSE(a.names("off_centre"));
  CHECK_FALSE(a.names("loose_plate"));
  CHECK(a.verdict() == "even");
}

TEST_CASE("causes: at the mount's natural speed, and on a mount too stiff") {
  const int marks = GENERATE(3, 6, 24);
  CAPTURE(marks);
  Ill at = with_unbalance(marks, 10);
  at.segments = {segment(0, 400, 400, 4), segment(1, 950, 400, 8)};
  const Answer near = ask(at);
  CHECK(near.names("at_natural_speed"));
  CHECK(near.names("off_centre"));
  Ill stiff = with_unbalance(marks, 20);
  stiff.machine.mount->natural = hertz(200);
  const Answer hidden = ask(stiff);
  CHECK(hidden.names("stiff_mount"));
  CHECK_FALSE(hidden.names("at_natural_speed"));
}

TEST_CASE("causes: what the pulses cannot tell is said with what to add") {
  Ill sprung = with_unbalance(6, 20);
  sprung.machine.tach.sensor_on = machine::SensorOn::sprung;
  const Answer rides = ask(sprung);
  CHECK(rides.names("sprung_sensor"));
  CHECK(rides.verdict() == "cannot_tell");
  const Answer one = ask(with_unbalance(1, 20));
  CHECK(one.names("one_mark"));
  CHECK(one.verdict() == "cannot_tell");
  CHECK_FALSE(one.json.at("add").get<std::string>().empty());
  const Answer two_even = ask(even_spinner(2));
  CHECK(two_even.names("two_marks"));
  CHECK(two_even.verdict() == "cannot_tell");
  const Answer two_off = ask(with_unbalance(2, 40));
  CHECK((two_off.verdict() == "stop" || two_off.verdict() == "watch"));
  Ill brief = even_spinner(6);
  brief.segments = {segment(0, 3000, 2000, 0.15)};
  CHECK(ask(brief).names("run_too_short"));
  const Answer no_index = ask(with_unbalance(6, 20), false);
  CHECK(no_index.names("no_index"));
  CHECK(no_index.names("off_centre"));
  CHECK(no_index.json.at("once_per_turn").at("phase_deg").is_null());
}
