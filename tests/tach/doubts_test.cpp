// What an analysis must not believe: a baseline of other marks, a count of marks that the pulses
// contradict, a mount on which they were not made.
#include "analysed.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;
using Catch::Matchers::ContainsSubstring;

namespace {

Spinner dwelling(int marks, double g_mm, std::uint64_t disc) {
  Spinner spinner;
  spinner.marks = marks;
  spinner.motion = Motion::dwell(2700, 8);
  spinner.motion.hunting = 0.0005;
  spinner.noise_rad = 2e-4;
  spinner.mount.unbalance_kg_m = g_mm * 1e-6;
  std::mt19937_64 random(disc);
  spinner.pattern = random_pattern(marks, 6e-3, random);
  return spinner;
}

SpinnerModel bench(int marks, double natural_hz, double watch_mm_s = 4.0) {
  SpinnerModel model;
  model.marks_per_turn = marks;
  model.natural = hertz(natural_hz);
  model.damping = 0.08;
  model.mark_radius = millimetres(15);
  model.moving_mass = grams(600);
  model.rotor_mass = grams(320);
  model.limits.watch_velocity = millimetres_per_s(watch_mm_s);
  model.limits.stop_velocity = millimetres_per_s(10 * watch_mm_s);
  return model;
}

PulseTrain turned_on(PulseTrain pulses, int marks, int by) {
  for (auto& mark : pulses.marks)
    mark = static_cast<std::int16_t>((mark + by) % marks);
  return pulses;
}

} // namespace

TEST_CASE("doubt: a baseline whose index is marks off is named so, and not taken off") {
  const int marks = GENERATE(5, 6, 12);
  const int off = GENERATE(1, 2);
  const auto bare = made(dwelling(marks, 0.0, 3), 1);
  const auto run = made(dwelling(marks, 0.0, 3), 2);
  const auto wrong = analysed({run, turned_on(bare, marks, off), bench(marks, 15), {}});
  CHECK(wrong.judgement.verdict == Verdict::cannot_tell);
  CHECK(wrong.pattern_from == PatternFrom::nothing);
  CHECK_THAT(wrong.judgement.reason,
             ContainsSubstring("index is " + std::to_string(off) + " mark"));
  CHECK(analysed({run, bare, bench(marks, 15), {}}).judgement.verdict == Verdict::even);
}

TEST_CASE("doubt: a baseline of another disc is named so, with an index and without") {
  // Of few marks some turn of any disc fits by chance: then the interval says so instead.
  const bool index = GENERATE(true, false);
  const int marks = index ? 6 : 12;
  auto bare = dwelling(marks, 0.0, 4);
  auto run = dwelling(marks, 20.0, 3);
  bare.with_index = run.with_index = index;
  const auto wrong = analysed({made(run, 2), made(bare, 1), bench(marks, 15), {}});
  CHECK(wrong.judgement.verdict == Verdict::cannot_tell);
  CHECK_THAT(wrong.judgement.reason, ContainsSubstring("made with other marks"));
}

TEST_CASE("doubt: a count of marks that is wrong is refused by the pattern, where no index tells") {
  auto bare = dwelling(6, 0.0, 3);
  auto run = dwelling(6, 20.0, 3);
  bare.with_index = run.with_index = false;
  for (const int said : {4, 5, 7, 12}) {
    INFO("said: " << said);
    const auto answer = analyse({made(run, 2), made(bare, 1), bench(said, 15), {}});
    REQUIRE_FALSE(answer.ok());
    CHECK_THAT(answer.fault().what, ContainsSubstring("comes again after 6 pulses"));
  }
  CHECK(analyse({made(run, 2), made(bare, 1), bench(6, 15), {}}).ok());
}

TEST_CASE("doubt: even marks, hunting and a plate that whirls are no wrong count") {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    auto run = dwelling(seed % 2 == 0 ? 24 : 6, 30.0, 3);
    run.with_index = false;
    run.motion.hunting = 0.004;
    run.motion.hunting_hz = 0.4 + 0.9 * static_cast<double>(seed);
    if (seed % 4 < 2)
      run.pattern.clear();
    INFO("hunting at " << run.motion.hunting_hz << " Hz, even: " << run.pattern.empty());
    CHECK(analyse({made(run, seed), std::nullopt, bench(run.marks, 15), {}}).ok());
  }
}

TEST_CASE("doubt: a baseline of a slower speed does not hide what the run's own ramp tells") {
  auto run = dwelling(6, 24.0, 3);
  run.motion = {{0.0}, {250.0 * kRpm}};
  run.motion.go_to(400, 300, 6).go_to(2700, 300, 6);
  auto bare = dwelling(6, 0.0, 3);
  bare.motion = Motion::dwell(400, 12);
  const auto answer = analysed({made(run, 2), made(bare, 1), bench(6, 15), {}});
  CHECK(answer.figure.speed.rpm() == Approx(2700).epsilon(0.01));
  CHECK_THAT(answer.judgement.reason, ContainsSubstring("baseline was not run at this speed"));
  REQUIRE(answer.unbalance);
  CHECK(answer.unbalance->low.g_mm() < 24.0);
  CHECK(answer.unbalance->high.g_mm() > 24.0);
}

TEST_CASE("doubt: a plate on a mount far stiffer than the file's is not called even") {
  auto run = dwelling(6, 24.0, 3);
  run.motion = {{0.0}, {250.0 * kRpm}};
  run.motion.go_to(300, 150, 2).go_to(2400, 150, 5);
  run.motion.hunting = 0.0;
  run.mount.natural_hz = GENERATE(110.0, 150.0);
  const auto answer = analysed({made(run, 5), std::nullopt, bench(6, 15), {}});
  CHECK(answer.judgement.verdict == Verdict::cannot_tell);
  REQUIRE(answer.run_up);
  CHECK(answer.run_up->against_named);
  CHECK_THAT(answer.judgement.reason, ContainsSubstring("names a mount of 15 Hz"));
  CHECK_THAT(answer.judgement.add, ContainsSubstring("mount.natural_hz"));
}

TEST_CASE("doubt: a run-up through its mount is read by that mount, whatever the file names") {
  auto run = dwelling(6, 24.0, 3);
  run.motion = {{0.0}, {100.0 * kRpm}};
  run.motion.go_to(450, 400, 4).go_to(3000, 400, 8);
  const double named_hz = GENERATE(5.0, 7.5, 12.0, 20.0, 28.0, 32.0, 60.0, 80.0, 120.0);
  const auto answer = analysed({made(run, 5), std::nullopt, bench(6, named_hz), {}});
  CAPTURE(named_hz);
  REQUIRE(answer.unbalance);
  CHECK(answer.unbalance->estimate.g_mm() == Approx(24.0).epsilon(0.06));
  CHECK(answer.run_up->mount.natural.Hz() == Approx(15.0).epsilon(0.02));
  CHECK_THAT(answer.judgement.reason, ContainsSubstring("made on a mount of 15"));
}

TEST_CASE("doubt: a mount that is as the file says, or 5 % off it, is never doubted") {
  for (std::uint64_t seed = 1; seed <= 24; ++seed) {
    auto run = dwelling(6, seed % 3 == 0 ? 0.0 : 24.0, seed);
    run.motion = {{0.0}, {250.0 * kRpm}};
    run.motion.go_to(300, 200, 2).go_to(2400, seed % 2 == 0 ? 200 : 900, 4);
    run.mount.natural_hz = seed % 4 == 0 ? 15.75 : 15.0;
    run.mount.damping = 0.05 + 0.01 * static_cast<double>(seed % 8);
    const auto answer = analysed({made(run, seed), std::nullopt, bench(6, 15), {}});
    INFO("seed " << seed);
    CHECK((!answer.run_up || !answer.run_up->against_named));
  }
}

TEST_CASE("doubt: the bounds of an unbalance by a named mount hold where the name is 5 % off") {
  const double true_hz = GENERATE(14.3, 15.0, 15.7);
  const double rpm = GENERATE(1200.0, 2700.0);
  auto run = dwelling(6, 24.0, 3);
  auto bare = dwelling(6, 0.0, 3);
  for (Spinner* spinner : {&run, &bare}) {
    spinner->motion = Motion::dwell(rpm, 8);
    spinner->mount.natural_hz = true_hz;
  }
  const auto answer = analysed({made(run, 2), made(bare, 1), bench(6, 15), {}});
  REQUIRE(answer.unbalance);
  CHECK(answer.unbalance->low.g_mm() < 24.0);
  CHECK(answer.unbalance->high.g_mm() > 24.0);
}

TEST_CASE("doubt: of two marks the reason says at least, and what noise may be has no heavy side") {
  auto run = dwelling(2, 24.0, 3);
  auto bare = dwelling(2, 0.0, 3);
  const auto two = analysed({made(run, 2), made(bare, 1), bench(2, 15, 1.0), {}});
  CHECK_THAT(two.judgement.reason, ContainsSubstring("at least"));
  const auto even =
      analysed({made(dwelling(6, 0.0, 3), 2), made(dwelling(6, 0.0, 3), 1), bench(6, 15), {}});
  REQUIRE(even.unbalance);
  CHECK(even.unbalance->heavy_side.has_value() == (even.figure.p_value < 0.05));
}

TEST_CASE("doubt: a counter that wrapped unsaid is named so, with its width") {
  const int bits = GENERATE(16, 20);
  auto run = made(dwelling(6, 24.0, 3), 2);
  for (auto& tick : run.ticks)
    tick = (tick + 60000) % (std::int64_t{1} << bits);
  const auto answer = analyse({run, std::nullopt, bench(6, 15), {}});
  REQUIRE_FALSE(answer.ok());
  CHECK_THAT(answer.fault().what, ContainsSubstring(std::to_string(bits) + " bits"));
  CHECK_THAT(answer.fault().next, ContainsSubstring("--tick-bits " + std::to_string(bits)));
}

TEST_CASE("doubt: half as many marks as there are is no even plate, where no index tells") {
  auto run = dwelling(6, 24.0, 3);
  run.motion = {{0.0}, {250.0 * kRpm}};
  run.motion.go_to(2700, 300, 5);
  run.with_index = false;
  const auto answer = analyse({made(run, 2), std::nullopt, bench(3, 15), {}});
  if (answer.ok())
    CHECK(answer->judgement.verdict == Verdict::cannot_tell);
}

TEST_CASE(
    "doubt: a named mount softer than any other is found where it is, and its plate stopped") {
  const double hz = GENERATE(5.3, 5.7);
  auto run = dwelling(6, 60.0, 3);
  run.motion = {{0.0}, {120.0 * kRpm}};
  run.motion.go_to(2700, 90, 5); // the natural speed is passed in a dozen turns
  run.mount.natural_hz = hz;
  const auto answer = analysed({made(run, 2), std::nullopt, bench(6, hz), {}});
  REQUIRE(answer.unbalance);
  CHECK(answer.unbalance->low.g_mm() < 60.0);
  CHECK(answer.unbalance->high.g_mm() > 60.0);
  CHECK(answer.judgement.verdict == Verdict::stop);
}

TEST_CASE("doubt: a file that says more marks than the disc has, without an index, is never even") {
  struct Disc {
    int marks;
    int said;
    double uneven_rad;
  };
  const Disc disc =
      GENERATE(Disc{24, 100, 0.0}, Disc{12, 90, 5e-4}, Disc{36, 120, 2e-3}, Disc{60, 128, 0.0},
               Disc{24, 48, 0.0}, Disc{30, 180, 5e-4}, Disc{20, 360, 0.0}, Disc{60, 100, 5e-4});
  CAPTURE(disc.marks, disc.said);
  Spinner spinner = dwelling(disc.marks, 120.0, 3);
  std::mt19937_64 random(9);
  spinner.pattern = random_pattern(disc.marks, disc.uneven_rad, random);
  spinner.motion = {{0.0}, {0.0}};
  spinner.motion.go_to(300, 400, 1).go_to(4200, 1000, 3);
  spinner.motion.hunting = 0.0005;
  spinner.with_index = false;
  const auto run = made(spinner, 4);
  const auto wrong = analyse({run, std::nullopt, bench(disc.said, 15), {}});
  if (wrong) {
    CHECK(wrong->judgement.verdict == Verdict::cannot_tell);
    CHECK_THAT(wrong->judgement.add, ContainsSubstring("count the marks"));
  } else {
    CHECK_THAT(wrong.fault().what,
               ContainsSubstring("after " + std::to_string(disc.marks) + " pulses"));
  }
  CHECK(analysed({run, std::nullopt, bench(disc.marks, 15), {}}).judgement.verdict ==
        Verdict::stop);
}

TEST_CASE("doubt: the count of marks is believed of even discs and uneven ones, whatever whirls") {
  const int marks = GENERATE(3, 6, 24, 48, 100, 360);
  const double g_mm = GENERATE(0.0, 120.0);
  CAPTURE(marks, g_mm);
  for (std::uint64_t seed = 1; seed <= 2; ++seed) {
    Spinner spinner = dwelling(marks, g_mm, 3);
    if (seed == 1)
      spinner.pattern.clear();
    else
      spinner.pattern = pattern_without_order_one(marks);
    spinner.noise_rad = std::min(2e-4, 0.05 / marks);
    spinner.motion = Motion::dwell(2700, marks > 100 ? 1 : 3);
    spinner.motion.hunting = 0.002;
    spinner.with_index = false;
    const auto run = made(spinner, seed);
    const auto a = analysed({run, run, bench(marks, 15), {}});
    CHECK_THAT(a.judgement.add, !ContainsSubstring("count the marks"));
  }
}

TEST_CASE("doubt: one speed with a baseline says what another natural speed would make of it") {
  Spinner spinner = dwelling(6, 24.0, 3);
  spinner.motion = Motion::dwell(1500, 6); // 25 Hz, on a mount of 15
  const auto run = made(spinner, 2);
  spinner.mount.unbalance_kg_m = 0.0;
  const auto bare = made(spinner, 1);
  const auto a = analysed({run, bare, bench(6, 15), {}});
  // [math] e omega of 24 g mm on 320 g at 1500 rpm is 11.78 mm/s; what is seen is U/(M R) times
  // r^2/|1 - r^2 + 2j z r|, which another natural speed
  // would divide by another gain
  REQUIRE(a.velocity);
  CHECK_THAT(a.velocity->estimate.mm_per_s(), Catch::Matchers::WithinRel(11.78, 0.02));
  const auto gain = [](double hz) {
    const double r = 25.0 / hz;
    return r * r / std::hypot(1.0 - r * r, 2.0 * 0.08 * r);
  };
  CHECK_THAT(a.judgement.reason, ContainsSubstring("machine file's mount of 15 Hz"));
  const auto said = [&](const std::string& after) {
    return std::stod(a.judgement.reason.substr(a.judgement.reason.find(after) + after.size()));
  };
  CHECK_THAT(said("at 12 Hz it would be "),
             Catch::Matchers::WithinRel(11.78 * gain(15) / gain(12), 0.03));
  CHECK_THAT(said("at 18 Hz "), Catch::Matchers::WithinRel(11.78 * gain(15) / gain(18), 0.03));
  // Far above the natural speed it hardly matters.
  spinner.motion = Motion::dwell(4200, 6);
  const auto fast_bare = made(spinner, 3);
  spinner.mount.unbalance_kg_m = 24e-6;
  CHECK_THAT(analysed({made(spinner, 4), fast_bare, bench(6, 15), {}}).judgement.reason,
             !ContainsSubstring("leans on"));
}

TEST_CASE("doubt: of even marks without an index no angle is given, however many there are") {
  const int marks = GENERATE(6, 60, 360, 1024);
  CAPTURE(marks);
  Spinner spinner = dwelling(marks, 0.0, 3);
  spinner.pattern.clear();
  spinner.noise_rad = std::min(1e-4, 0.03 / marks);
  spinner.whirls = false;
  spinner.steady = {1e-3, 0.0};
  spinner.tick_s = 62.5e-9;
  spinner.motion = Motion::dwell(600, 3);
  spinner.with_index = false;
  auto model = bench(marks, 15);
  const auto even = analysed({made(spinner, 4), std::nullopt, model, {}});
  CHECK_FALSE(even.figure.phase);
  std::mt19937_64 random(2); // marks that differ from each other tell the angle
  spinner.pattern = random_pattern(marks, 0.03 * 2.0 * kPi / marks, random);
  CHECK(analysed({made(spinner, 4), std::nullopt, model, {}}).figure.phase);
}

TEST_CASE("doubt: three marks said of a disc of six name the six") {
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    Spinner spinner = dwelling(6, 24.0, seed);
    spinner.with_index = false;
    std::mt19937_64 random(seed);
    spinner.pattern = random_pattern(6, 3e-4, random);
    const auto a = analysed({made(spinner, seed), std::nullopt, bench(3, 15), {}});
    CAPTURE(seed, a.judgement.reason);
    CHECK(a.judgement.verdict == Verdict::cannot_tell);
    CHECK_THAT(a.judgement.reason, ContainsSubstring("6 marks a turn"));
    CHECK_THAT(a.judgement.add, ContainsSubstring("number of marks"));
  }
}

TEST_CASE("doubt: marks too uneven to be counted are named so, not as a short record") {
  Spinner spinner = dwelling(360, 0.0, 3);
  std::mt19937_64 random(2);
  spinner.pattern = random_pattern(360, 0.15 * 2.0 * kPi / 360, random);
  spinner.noise_rad = 1e-5;
  spinner.tick_s = 62.5e-9;
  spinner.motion = Motion::dwell(900, 4);
  spinner.with_index = false;
  const auto answer = analyse({made(spinner, 4), std::nullopt, bench(360, 15), {}});
  if (!answer)
    CHECK_THAT(answer.fault().what,
               ContainsSubstring("from one mark to the next") || ContainsSubstring("are missing"));
  else
    CHECK(answer->figure.turns > 20);
}
