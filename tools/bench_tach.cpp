// How fast the pulses are read, by the number of marks: a recorded run whole (1.08 million pulses
// at 3000 rpm with uneven marks, hunting, noise and an off-centre plate, against a baseline of one
// minute), and a run while it runs (2400 pulses a second, or 12 000 rpm). The reference of the
// first is std::sort of the same time stamps in random order, measured in the same run; of the
// second, time itself. Goals: 20 million pulses a second on one core; under 1 % of a core, in
// memory that does not grow.
#include "whirler/tach/live_watch.hpp"
#include "whirler/tach/recording.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <malloc.h>
#include <random>
#include <vector>

using namespace whirler;

namespace {

constexpr double kPulses = 1.08e6;
constexpr double kLivePulses = 2400.0; // a second
constexpr double kFastest = 200.0;     // turns a second: no spinner with few marks is faster
const Duration kTick = microseconds(0.5);

std::vector<double> pattern_of(int marks) {
  std::mt19937_64 chance(7);
  std::normal_distribution<double> uneven(0.0, std::min(5e-3, 0.25 / marks));
  std::vector<double> late(static_cast<std::size_t>(marks));
  for (double& mark : late)
    mark = uneven(chance);
  return late;
}

/// Pulses of so many turns at `speed`; `whirl` is the plate's amplitude at 40 degrees.
tach::PulseTrain pulses(int marks, Speed speed, std::size_t turns, Angle whirl, unsigned seed) {
  std::mt19937_64 chance(seed);
  std::normal_distribution<double> noise_rad(0.0, std::min(2e-4, 0.05 / marks));
  const auto pattern = pattern_of(marks);
  const auto per_turn = static_cast<std::size_t>(marks);
  tach::PulseTrain train;
  train.tick = kTick;
  for (std::size_t i = 0; i < turns * per_turn; ++i) {
    const std::size_t mark = i % per_turn;
    const double psi = kRadPerTurn * static_cast<double>(mark) / marks;
    const double angle = kRadPerTurn * static_cast<double>(i) / marks;
    const double late = whirl.rad() * std::cos(degrees(40).rad() - psi) + pattern[mark];
    const double steady_s = (angle + late + noise_rad(chance)) / speed.rad_per_s();
    const double hunting_s = 4.5e-4 * std::sin(kRadPerTurn * 0.7 * steady_s); // 0.2 % at 0.7 Hz
    train.ticks.push_back(std::llround((steady_s + hunting_s + 1.0) / kTick.s()));
    train.marks.push_back(static_cast<std::int16_t>(mark));
  }
  return train;
}

/// Of this thread on its core: other programs do not count.
double thread_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

template <class Work>
double best_of_five(Work work) {
  double best = 1e300;
  for (int i = 0; i < 5; ++i) {
    const double begin = thread_seconds();
    work();
    best = std::min(best, thread_seconds() - begin);
  }
  return best;
}

/// Prints one line; true where the plate is found.
bool read_recorded(int marks) {
  const auto turns = static_cast<std::size_t>(kPulses / marks);
  const Speed speed = marks > 100 ? rpm(600) : rpm(3000); // the timer has no more than its ticks
  tach::Recording recording;
  recording.pulses = pulses(marks, speed, turns, milliradians(1.5), 1);
  recording.baseline = pulses(marks, speed, std::min<std::size_t>(turns, 3000), radians(0), 2);
  recording.model.marks_per_turn = marks;
  double found_mrad = 0.0;
  const double analysis_s = best_of_five([&] {
    const auto analysis = tach::analyse(recording);
    found_mrad = analysis ? analysis->figure.amplitude.mrad() : 0.0;
  });
  std::vector<std::int64_t> shuffled;
  const double sort_s = best_of_five([&] {
    shuffled = recording.pulses.ticks;
    std::shuffle(shuffled.begin(), shuffled.end(), std::mt19937_64(3));
    std::sort(shuffled.begin(), shuffled.end());
  });
  const auto count = static_cast<double>(recording.pulses.size());
  const double rate = count / analysis_s / 1e6;
  std::printf("%5d  %8.3f s  %8.1f  %8.2f of std::sort  %8.4f mrad  %s\n", marks, analysis_s, rate,
              analysis_s / sort_s, found_mrad, rate >= 20.0 ? "met" : "missed");
  const double seen = marks == 2 ? 1.5 * std::cos(degrees(40).rad()) : marks == 1 ? 0.0 : 1.5;
  return std::abs(found_mrad - seen) < 0.02;
}

/// A run of ten minutes; prints its share of a core, and the heap after one minute and after ten.
bool read_live(int marks, bool mount_known) {
  const double turns_a_second = std::min(kLivePulses / marks, kFastest);
  const Speed speed = rad_per_s(kRadPerTurn * turns_a_second);
  constexpr double kLength_s = 600.0;
  const auto turns = static_cast<std::size_t>(kLength_s * turns_a_second);
  const auto train = pulses(marks, speed, turns, milliradians(0.2), 3);
  tach::SpinnerModel model;
  model.marks_per_turn = marks;
  model.limits.stop_angle = milliradians(2);
  if (mount_known)
    model.natural = hertz(15);
  tach::LiveWatch watch(model, kTick);
  std::size_t heap_early = 0;
  std::size_t heap_late = 0;
  const double begin = thread_seconds();
  for (std::size_t i = 0; i + 24 <= train.size(); i += 24) {
    watch.feed(std::span(train.ticks).subspan(i, 24), std::span(train.marks).subspan(i, 24));
    if (watch.over_stop_limit() || watch.will_be_over(speed))
      return false;
    if (i == train.size() / 10 / 24 * 24)
      heap_early = mallinfo2().uordblks;
  }
  const double share = (thread_seconds() - begin) / kLength_s;
  heap_late = mallinfo2().uordblks;
  std::printf("%5d  mount %-7s  %6.3f %% of a core  heap %+ld bytes from minute 1 to 10  %s\n",
              marks, mount_known ? "known" : "unknown", 100.0 * share,
              static_cast<long>(heap_late) - static_cast<long>(heap_early),
              share < 0.01 && heap_late < heap_early + 4096 ? "met" : "missed");
  return true;
}

} // namespace

int main() {
  bool right = true;
  std::printf("a recorded run, 1.08 million pulses (goal: 20 million a second)\n"
              "marks        time   million/s            ratio         found\n");
  for (const int marks : {1, 2, 3, 6, 12, 24, 60, 360, 1024})
    right = read_recorded(marks) && right;
  std::printf(
      "a run while it runs, 2400 pulses a second or 12 000 rpm (goal: under 1 %%, no growth)\n");
  for (const int marks : {2, 3, 6, 12, 24, 60})
    for (const bool known : {true, false})
      right = read_live(marks, known) && right;
  return right ? 0 : 1;
}
