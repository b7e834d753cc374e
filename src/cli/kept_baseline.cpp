#include "kept_baseline.hpp"

#include "whirler/files/pulses_csv.hpp"

#include <cmath>
#include <cstdlib>
#include <numeric>

namespace whirler::cli {
namespace {

constexpr std::int64_t kPicosecondsPerSecond = 1'000'000'000'000;

/// "12.0000005": without the zeros that say nothing.
std::string seconds_of(std::int64_t picoseconds) {
  const std::string fraction = std::to_string(std::abs(picoseconds % kPicosecondsPerSecond));
  std::string text = (picoseconds < 0 ? "-" : "") +
                     std::to_string(std::abs(picoseconds / kPicosecondsPerSecond)) + "." +
                     std::string(12 - fraction.size(), '0') + fraction;
  text.erase(text.find_last_not_of('0') + 1);
  return text.back() == '.' ? text + "0" : text;
}

/// With the timer's own tick again, which the table does not name: what divides all of its times.
tach::PulseTrain on_its_tick(tach::PulseTrain pulses) {
  std::int64_t divisor = 0;
  for (const std::int64_t tick : pulses.ticks)
    divisor = std::gcd(divisor, tick);
  if (divisor < 2)
    return pulses;
  for (std::int64_t& tick : pulses.ticks)
    tick /= divisor;
  pulses.tick = static_cast<double>(divisor) * pulses.tick;
  return pulses;
}

} // namespace

std::string baseline_table(const tach::PulseTrain& pulses) {
  const bool marked = pulses.marks.size() == pulses.size();
  const auto tick_ps = static_cast<std::int64_t>(std::llround(pulses.tick.s() * 1e12));
  std::string text = marked ? "t_s,mark\n" : "t_s\n";
  for (std::size_t i = 0; i < pulses.size(); ++i) {
    text += seconds_of((pulses.ticks[i] - pulses.ticks.front()) * tick_ps);
    if (marked)
      text += "," + (pulses.marks[i] < 0 ? std::string() : std::to_string(pulses.marks[i]));
    text += "\n";
  }
  return text;
}

std::optional<tach::PulseTrain> kept_baseline(const notebook::Coat& coat,
                                              std::vector<std::string>& notes) {
  for (const notebook::KeptFile& file : coat.start.files) {
    if (file.role != kBaselineRole)
      continue;
    auto read = files::read_pulses(file.text, file.name, {std::nullopt, std::nullopt, 2, true});
    if (read)
      return on_its_tick(std::move(read).value());
    notes.push_back("The kept baseline cannot be read: " + files::to_text(read.faults().front()));
  }
  return std::nullopt;
}

} // namespace whirler::cli
