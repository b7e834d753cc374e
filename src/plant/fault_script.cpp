#include "whirler/plant/fault_script.hpp"

#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::plant {
namespace {

constexpr auto kDescriptions = std::to_array<FaultDescription>({
    {FaultWord::lid, "lid", "the lid opens", "", 0},
    {FaultWord::drop, "drop", "the tach misses marks", "every how many-th is missed, 2 to 1000", 2},
    {FaultWord::tach, "tach", "the tach's wire is cut: no marks at all", "", 0},
    {FaultWord::marks, "marks", "the disc has another number of marks", "how many, 1 to 1024", 3},
    {FaultWord::stall, "stall", "something jams the spindle", "", 0},
    {FaultWord::estop, "estop", "the emergency stop is pressed: no supply to the motor", "", 0},
    {FaultWord::runaway, "runaway", "the power stage sticks at full while enabled", "", 0},
    {FaultWord::cable, "cable", "the cable is pulled: the port goes away", "", 0},
    {FaultWord::corrupt, "corrupt", "bytes are damaged in both directions",
     "share of bytes, above 0, at most 1", 1e-3},
    {FaultWord::deaf, "deaf", "nothing from the host reaches the driver", "", 0},
    {FaultWord::silent, "silent", "nothing from the driver reaches the host", "", 0},
    {FaultWord::slow, "slow", "everything from the driver comes late", "ms, 0 to 10000", 150},
    {FaultWord::garbage, "garbage", "the driver sends noise instead of frames", "", 0},
    {FaultWord::reset, "reset", "the driver is reset and boots", "", 0},
    {FaultWord::brownout, "brownout", "the driver's supply dips and it boots", "", 0},
    {FaultWord::hang, "hang", "the driver's program hangs until its watchdog resets it", "", 0},
});
static_assert(kDescriptions.size() == kFaultWords);

Fault wrong(std::string_view text, std::string what) {
  return {FaultKind::command_line, "fault '" + std::string(text) + "': " + std::move(what), "",
          "write WORD[=VALUE]@TIME[+DURATION], such as lid@12s or estop@8s+2s"};
}

const FaultDescription* find(std::string_view name) {
  for (const auto& description : kDescriptions)
    if (description.name == name)
      return &description;
  return nullptr;
}

std::string all_words() {
  std::string list;
  for (const auto& description : kDescriptions)
    list += (list.empty() ? "" : ", ") + std::string(description.name);
  return list;
}

bool in_range(FaultWord word, double value) {
  const bool whole = value == std::floor(value);
  switch (word) {
  case FaultWord::drop:
    return whole && value >= 2.0 && value <= 1000.0;
  case FaultWord::marks:
    return whole && value >= 1.0 && value <= 1024.0;
  case FaultWord::corrupt:
    return value > 0.0 && value <= 1.0;
  case FaultWord::slow:
    return value >= 0.0 && value <= 10000.0;
  default:
    return false; // takes none
  }
}

/// Text before the first `mark`, and after it where there is one.
struct Halves {
  std::string_view before;
  std::optional<std::string_view> after;
};
Halves split(std::string_view text, char mark) {
  const auto at = text.find(mark);
  if (at == std::string_view::npos)
    return {text, std::nullopt};
  return {text.substr(0, at), text.substr(at + 1)};
}

} // namespace

std::span<const FaultDescription> fault_descriptions() { return kDescriptions; }

Result<ScriptedFault> parse_fault(std::string_view text) {
  const auto [head, times] = split(text, '@');
  const auto [name, value] = split(head, '=');
  const FaultDescription* description = find(name);
  if (description == nullptr)
    return wrong(text, "there is no '" + std::string(name) + "'; there are " + all_words());
  if (!times)
    return wrong(text, "the time is missing");
  ScriptedFault fault{description->word, description->usual, {}, {}};
  if (value) {
    const auto number = parse_number(*value);
    if (!number || !in_range(fault.word, *number))
      return wrong(text, description->value.empty()
                             ? "this word takes no value"
                             : "the value must be: " + std::string(description->value));
    fault.value = *number;
  }
  const auto [at, lasts] = split(*times, '+');
  const auto begin = parse<Duration>(at);
  if (!begin || *begin < seconds(0.0))
    return wrong(text, "'" + std::string(at) + "' is not a time from the start on");
  fault.at = *begin;
  if (lasts) {
    const auto length = parse<Duration>(*lasts);
    if (!length || *length <= seconds(0.0))
      return wrong(text, "'" + std::string(*lasts) + "' is not a duration");
    fault.lasts = *length;
  }
  return fault;
}

void FaultSchedule::advance(Duration since_power_on, std::optional<Duration> since_start) {
  before_ = now_;
  now_ = {};
  for (const auto& fault : faults_) {
    const auto now = fault.at == seconds(0.0) ? since_power_on : since_start;
    if (now && *now >= fault.at && (!fault.lasts || *now < fault.at + *fault.lasts))
      now_[static_cast<std::size_t>(fault.word)] = fault.value;
  }
}

} // namespace whirler::plant
