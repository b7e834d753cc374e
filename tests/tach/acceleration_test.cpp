// Once per turn from an accelerometer beside the tach: against the mount's equation, an even plate,
// and a real rotor.
#include "catch.hpp"
#include "pulse_maker.hpp"
#include "whirler/balance/influence.hpp"
#include "whirler/tach/recording.hpp"

#include <fstream>
#include <string>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;

namespace {

const std::string kRotor = std::string(WHIRLER_SOURCE_DIR) + "/../shared/data/rotor/";

/// Second difference of the whirl that the pulses' maker integrates, with noise, 1 kHz.
AccelerationTrack track_of(const Spinner& spinner, double noise_m_s2) {
  const pulse_maker::Whirl whirl(spinner.motion, spinner.mount, -0.1);
  std::mt19937_64 random(12);
  std::normal_distribution<double> noise(0.0, noise_m_s2);
  constexpr double kStep = 2e-4;
  AccelerationTrack track;
  for (double t = 1.0; t < spinner.motion.end_s() - 0.1; t += 1e-3) {
    const double a =
        spinner.mount.unbalance_kg_m == 0.0
            ? 0.0
            : (whirl.y(t + kStep) - 2.0 * whirl.y(t) + whirl.y(t - kStep)) / (kStep * kStep);
    track.at.push_back(seconds(t));
    track.m_s2.push_back(9.81 * 0.02 + a + noise(random));
  }
  return track;
}

Recording shed(double unbalance_g_mm) {
  Spinner spinner;
  spinner.marks = 1;
  spinner.motion = Motion::dwell(3000, 8);
  spinner.motion.hunting = 0.002;
  spinner.noise_rad = 2e-4;
  spinner.mount.unbalance_kg_m = unbalance_g_mm * 1e-6;
  std::mt19937_64 random(1);
  Recording recording;
  recording.pulses = pulses_of(spinner, random);
  recording.acceleration = track_of(spinner, 0.05);
  recording.model.marks_per_turn = 1;
  recording.model.natural = hertz(15);
  recording.model.damping = 0.08;
  recording.model.moving_mass = grams(600);
  recording.model.rotor_mass = grams(324);
  recording.model.limits.watch_velocity = millimetres_per_s(6.3);
  recording.model.limits.stop_velocity = millimetres_per_s(16);
  return recording;
}

struct Real {
  PulseTrain pulses;
  AccelerationTrack track;
};

/// A turn begins where the reflective mark comes; 952 samples a second.
Real real_rotor(const std::string& name) {
  constexpr double kRate = 952.0;
  std::ifstream file(kRotor + name + ".csv");
  Real out;
  out.pulses.tick = seconds(1.0 / kRate);
  std::string line;
  int before = 0;
  std::int64_t sample = 0;
  while (std::getline(file, line)) {
    const auto comma = line.find(',');
    if (line.front() == '#' || line.front() == 'i' || comma == std::string::npos)
      continue;
    const int light = std::stoi(line.substr(0, comma));
    if (before == 1 && light == 0)
      out.pulses.ticks.push_back(sample);
    before = light;
    out.track.at.push_back(seconds(static_cast<double>(sample) / kRate));
    out.track.m_s2.push_back(std::stod(line.substr(comma + 1))); // in counts of its own
    ++sample;
  }
  return out;
}

} // namespace

TEST_CASE("exact: an accelerometer's once per turn is Jeffcott's rotor, with one mark a turn") {
  const Recording recording = shed(24);
  const auto found = order_one(recording.pulses, 1, *recording.acceleration);
  REQUIRE(found.ok());
  const double r = 50.0 / 15.0;
  const double gain = r * r / std::hypot(1.0 - r * r, 2.0 * 0.08 * r);
  const double w = 3000 * kRpm;
  CHECK(std::abs(found->vector_m_s2) == Approx(w * w * gain * 24e-6 / 0.6).epsilon(0.01));
  CHECK(found->p_value < 1e-9);
  CHECK(found->low_m_s2 < std::abs(found->vector_m_s2));
  CHECK(found->high_m_s2 > std::abs(found->vector_m_s2));
}

TEST_CASE("verdict: an accelerometer makes one mark a turn enough") {
  const auto off = analyse(shed(24));
  REQUIRE(off.ok());
  CHECK(off->judgement.verdict == Verdict::stop);
  REQUIRE(off->velocity);
  CHECK(off->velocity->estimate.mm_per_s() ==
        Approx(24e-6 / 0.324 * 3000 * kRpm * 1e3).epsilon(0.02));
  REQUIRE(off->unbalance);
  CHECK(off->unbalance->estimate.g_mm() == Approx(24).epsilon(0.02));
  const auto some = analyse(shed(9));
  REQUIRE(some.ok());
  CHECK(some->judgement.verdict == Verdict::watch);
  const auto even = analyse(shed(0));
  REQUIRE(even.ok());
  CHECK(even->judgement.verdict == Verdict::even);
  Recording no_masses = shed(24);
  no_masses.model.moving_mass.reset();
  const auto unknown = analyse(no_masses);
  REQUIRE(unknown.ok());
  CHECK(unknown->judgement.verdict == Verdict::cannot_tell);
  CHECK(unknown->acceleration);
}

TEST_CASE("limit: on an accelerometer's noise alone the stated chance is the true one") {
  Recording recording = shed(0);
  int alarms = 0;
  constexpr int kSeeds = 400;
  for (int seed = 0; seed < kSeeds; ++seed) {
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    std::normal_distribution<double> noise;
    for (double& value : recording.acceleration->m_s2)
      value = noise(random);
    const auto found = order_one(recording.pulses, 1, *recording.acceleration);
    REQUIRE(found.ok());
    alarms += found->p_value < 0.05 ? 1 : 0;
  }
  CHECK(alarms <= 0.083 * kSeeds); // 5 %, and 3 standard errors
}

TEST_CASE("an acceleration that cannot be read is refused in words") {
  Recording recording = shed(24);
  const auto refused = [&](const AccelerationTrack& track) {
    const auto found = order_one(recording.pulses, 1, track);
    return !found.ok() && found.fault().kind == FaultKind::input && !found.fault().next.empty();
  };
  AccelerationTrack bad = *recording.acceleration;
  bad.m_s2.pop_back();
  CHECK(refused(bad));
  bad = *recording.acceleration;
  std::swap(bad.at[5], bad.at[6]);
  CHECK(refused(bad));
  bad = *recording.acceleration;
  for (Duration& at : bad.at)
    at += seconds(100);
  CHECK(refused(bad));
  AccelerationTrack thin; // three samples a turn
  for (std::size_t i = 0; i < recording.acceleration->at.size(); i += 6) {
    thin.at.push_back(recording.acceleration->at[i]);
    thin.m_s2.push_back(recording.acceleration->m_s2[i]);
  }
  CHECK(refused(thin));
  CHECK(refused({}));
  AccelerationTrack dead = *recording.acceleration;
  std::fill(dead.m_s2.begin(), dead.m_s2.end(), 9.81);
  CHECK(refused(dead));
}

TEST_CASE("an accelerometer's gaps, and a sensor that froze, cost turns and no unbalance") {
  const auto gap = [](AccelerationTrack& track, double from_s, double to_s, bool frozen) {
    AccelerationTrack out;
    for (std::size_t i = 0; i < track.at.size(); ++i) {
      const bool inside = track.at[i].s() > from_s && track.at[i].s() < to_s;
      if (inside && !frozen)
        continue;
      out.at.push_back(track.at[i]);
      out.m_s2.push_back(inside ? out.m_s2.back() : track.m_s2[i]);
    }
    track = out;
  };
  for (const bool frozen : {false, true}) {
    CAPTURE(frozen);
    Recording one = shed(24);
    gap(*one.acceleration, 2.0, 6.5, frozen);
    Recording many = shed(24);
    for (double t = 1.2; t < 8.0; t += 0.5)
      gap(*many.acceleration, t, t + 0.1, frozen);
    for (const Recording& recording : {one, many}) {
      const auto found = analyse(recording);
      REQUIRE(found.ok());
      CHECK(found->unbalance->estimate.g_mm() == Approx(24).epsilon(0.02));
      CHECK(found->acceleration->left_out > 50);
      CHECK_FALSE(found->acceleration->doubt);
      CHECK(found->judgement.verdict == Verdict::stop);
    }
  }
}

TEST_CASE("an accelerometer whose clock runs off the pulses' proves no even plate") {
  for (const double off : {-0.02, -5e-4, 5e-4, 0.003, 0.01, 0.04}) {
    CAPTURE(off);
    Recording recording = shed(24);
    for (Duration& at : recording.acceleration->at)
      at = (1.0 + off) * at;
    const auto found = analyse(recording);
    REQUIRE(found.ok());
    REQUIRE(found->acceleration->doubt);
    CHECK(found->acceleration->doubt->what.find("clocks") != std::string::npos);
    CHECK(found->judgement.verdict != Verdict::even);
  }
  int doubts = 0; // where there is nothing to turn, and where all is well
  for (int seed = 0; seed < 100; ++seed) {
    Recording recording = shed(seed % 2 == 0 ? 0 : 24);
    std::mt19937_64 random(static_cast<std::uint64_t>(seed));
    std::normal_distribution<double> noise(0.0, 0.3);
    for (double& value : recording.acceleration->m_s2)
      value += noise(random);
    const auto found = order_one(recording.pulses, 1, *recording.acceleration);
    REQUIRE(found.ok());
    doubts += found->doubt ? 1 : 0;
  }
  CHECK(doubts == 0);
}

TEST_CASE("an accelerometer at the end of its range is in doubt, one in coarse steps is not") {
  Recording clipped = shed(24);
  Recording coarse = shed(24);
  for (double& value : clipped.acceleration->m_s2)
    value = std::clamp(value, -2.0, 2.0); // of 4.3
  for (double& value : coarse.acceleration->m_s2)
    value = 0.5 * std::round(value / 0.5);
  const auto short_of = analyse(clipped);
  REQUIRE(short_of.ok());
  CHECK(short_of->acceleration->doubt);
  CHECK(short_of->judgement.verdict != Verdict::even);
  CHECK(short_of->acceleration->high_m_s2 >
        0.99 * std::abs(analyse(shed(24))->acceleration->vector_m_s2));
  const auto enough = analyse(coarse);
  REQUIRE(enough.ok());
  CHECK_FALSE(enough->acceleration->doubt);
  CHECK(enough->unbalance->estimate.g_mm() == Approx(24).epsilon(0.02));
}

TEST_CASE(
    "an accelerometer whose wire breaks half-way is in doubt, and its interval holds the truth") {
  for (const double until_s : {2.5, 4.0, 6.5}) {
    CAPTURE(until_s);
    Recording recording = shed(24);
    const auto whole = order_one(recording.pulses, 1, *recording.acceleration);
    std::mt19937_64 random(3);
    std::normal_distribution<double> noise(0.0, 0.05);
    for (std::size_t i = 0; i < recording.acceleration->at.size(); ++i)
      if (recording.acceleration->at[i].s() > until_s)
        recording.acceleration->m_s2[i] = noise(random);
    const auto found = analyse(recording);
    REQUIRE(found.ok());
    REQUIRE(found->acceleration->doubt);
    CHECK(found->acceleration->doubt->what.find("jumps") != std::string::npos);
    CHECK(found->judgement.verdict != Verdict::even);
    CHECK(found->acceleration->high_m_s2 > 0.99 * std::abs(whole->vector_m_s2));
  }
}

TEST_CASE("an amplifier at its end is seen by the flat tops of the mean turn, noise or not") {
  std::mt19937_64 random(5);
  std::normal_distribution<double> noise(0.0, 0.08);
  for (const double cut : {1.8, 2.6, 3.4, 100.0}) { // of 4.3
    CAPTURE(cut);
    Recording recording = shed(24);
    const auto whole = order_one(recording.pulses, 1, *recording.acceleration);
    for (double& value : recording.acceleration->m_s2)
      value = std::clamp(value, -cut, cut) + noise(random);
    const auto found = analyse(recording);
    REQUIRE(found.ok());
    CHECK(found->acceleration->doubt.has_value() == (cut < 4.0));
    CHECK(found->acceleration->high_m_s2 > 0.99 * std::abs(whole->vector_m_s2));
  }
}

TEST_CASE("a contact that is lost now and then is in doubt, and its interval holds the truth") {
  Recording recording = shed(24);
  const auto whole = order_one(recording.pulses, 1, *recording.acceleration);
  std::mt19937_64 random(5);
  std::normal_distribution<double> noise(0.0, 0.05);
  for (std::size_t i = 0; i < recording.acceleration->at.size(); ++i)
    if (std::fmod(recording.acceleration->at[i].s(), 1.3) < 0.3)
      recording.acceleration->m_s2[i] = noise(random);
  const auto found = analyse(recording);
  REQUIRE(found.ok());
  REQUIRE(found->acceleration->doubt);
  CHECK(found->acceleration->doubt->what.find("goes away") != std::string::npos);
  CHECK(found->acceleration->high_m_s2 > 0.99 * std::abs(whole->vector_m_s2));
}

TEST_CASE("a sensor that shows less than any rotor makes proves no even plate") {
  Recording recording = shed(24);
  std::mt19937_64 random(5);
  std::normal_distribution<double> noise(0.0, 0.005);
  for (double& value : recording.acceleration->m_s2)
    value = noise(random);
  const auto found = analyse(recording);
  REQUIRE(found.ok());
  CHECK(found->judgement.verdict != Verdict::even);
  CHECK(found->judgement.reason.find("may be dead") != std::string::npos);
}

TEST_CASE("few samples a turn make the unbalance no smaller") {
  for (const double a_turn : {5.2, 5.7, 6.3, 8.1}) {
    CAPTURE(a_turn);
    Recording recording = shed(24);
    const AccelerationTrack fine = *recording.acceleration;
    AccelerationTrack& track = *recording.acceleration;
    track = {};
    const double per_sample = 20.0 / a_turn; // 1 kHz at 50 turns a second
    for (double i = 0.0; i < static_cast<double>(fine.at.size() - 1); i += per_sample) {
      track.at.push_back(fine.at[static_cast<std::size_t>(i)]);
      track.m_s2.push_back(fine.m_s2[static_cast<std::size_t>(i)]);
    }
    const auto found = analyse(recording);
    REQUIRE(found.ok());
    CHECK(found->unbalance->estimate.g_mm() == Approx(24).epsilon(0.01));
  }
}

TEST_CASE("where marks and accelerometer cannot both be right, the worse of the two counts") {
  Spinner spinner;
  spinner.marks = 6;
  spinner.motion = Motion::dwell(3000, 8);
  spinner.noise_rad = 2e-4;
  spinner.with_index = true;
  spinner.mount.unbalance_kg_m = 24e-6;
  Spinner bare = spinner;
  bare.mount.unbalance_kg_m = 0.0;
  std::mt19937_64 random(2);
  Recording recording = shed(24);
  recording.model.marks_per_turn = 6;
  recording.model.mark_radius = millimetres(15);
  recording.pulses = pulses_of(spinner, random);
  recording.baseline = pulses_of(bare, random);
  recording.acceleration = track_of(spinner, 0.05);
  const auto agreeing = analyse(recording);
  REQUIRE(agreeing.ok());
  CHECK(agreeing->judgement.verdict == Verdict::stop);
  CHECK(agreeing->judgement.reason.find("the marks") == std::string::npos);
  for (const double scale : {0.1, 10.0}) {
    CAPTURE(scale);
    Recording wrong = recording;
    for (double& value : wrong.acceleration->m_s2)
      value *= scale;
    const auto found = analyse(wrong);
    REQUIRE(found.ok());
    CHECK(found->judgement.verdict == Verdict::stop);
    CHECK(found->judgement.reason.find("the marks") != std::string::npos);
  }
}

TEST_CASE("measured: a real rotor balances by 0.070 g, and its tach alone cannot tell") {
  // A small rotor with one reflective mark and an accelerometer, before and with 0.060 g of putty
  // (hstarmans/rotorbalancer, measurements, GPL-3.0). By own reckoning 0.070 and 0.071 g, 3 %.
  if (!std::ifstream(kRotor + "weight_102.csv")) {
    WARN("skipped: ../shared/data/rotor is not here");
    return;
  }
  struct Pair {
    const char* bare;
    const char* with_putty;
  };
  for (const Pair pair : {Pair{"without_weight_100", "weight_102"},
                          {"without_weight_102", "weight_102"},
                          {"without_weight_104", "weight_102"},
                          {"without_weight_105", "weight_104"}}) {
    CAPTURE(pair.bare);
    const Real bare = real_rotor(pair.bare);
    const Real putty = real_rotor(pair.with_putty);
    const auto before = order_one(bare.pulses, 1, bare.track);
    const auto after = order_one(putty.pulses, 1, putty.track);
    REQUIRE((before.ok() && after.ok()));
    CHECK(before->speed.turns_per_s() == Approx(after->speed.turns_per_s()).epsilon(0.01));
    CHECK(std::abs(before->vector_m_s2) > 3.0 * std::abs(after->vector_m_s2));
    const balance::TrialPair runs[] = {{before->vector_m_s2, after->vector_m_s2, {}}};
    const auto found =
        balance::correct(runs, {grams(0.060), degrees(0), millimetres(10)}, millimetres(10));
    REQUIRE(found.ok());
    CHECK(found->mass.mass.g() == Approx(0.070).epsilon(0.10));
    Recording alone;
    alone.pulses = bare.pulses;
    alone.model.marks_per_turn = 1;
    alone.model.limits.stop_angle = milliradians(1);
    const auto tach = analyse(alone);
    REQUIRE(tach.ok());
    CHECK(tach->judgement.verdict == Verdict::cannot_tell);
  }
}
