#include "kept_baseline.hpp"

#include "balance_record.hpp"
#include "whirler/files/pulses_csv.hpp"
#include "whirler/files/read.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numeric>
#include <string_view>

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

Outcome check_bare_hub(const notebook::Coat& coat, const machine::Machine* machine) {
  const auto no_baseline = [&](const std::string& what) {
    return input_fault(
        what, "the baseline, coat " + std::to_string(coat.number),
        "record the bare hub, without --blank, at the same speed, and name that coat");
  };
  const auto& files = coat.start.files;
  const auto file_of = [&](std::string_view role) {
    return std::find_if(files.begin(), files.end(),
                        [&](const notebook::KeptFile& file) { return file.role == role; });
  };
  if (!coat.start.blank.empty() || file_of("blank") != files.end())
    return no_baseline("a plate was on" +
                       (coat.start.blank.empty() ? "" : " (" + coat.start.blank + ")") +
                       ": its own unbalance would be taken off the run's");
  const auto on = masses_on(coat);
  if (!on || !on->empty())
    return no_baseline("balancing masses were on");
  const auto kept = file_of("machine");
  if (machine == nullptr || kept == files.end())
    return Done{};
  const auto its = files::read_machine(kept->text, kept->name);
  if (its && its->direction != machine->direction)
    return no_baseline("the spindle turned the other way");
  return Done{};
}

} // namespace whirler::cli
