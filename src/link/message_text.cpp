#include "whirler/link/messages.hpp"
#include "whirler/units/text.hpp"

#include <array>
#include <string_view>

namespace whirler::link {
namespace {

struct LatchWords {
  Latch latch;
  std::string_view words;
};

constexpr auto kLatchWords = std::to_array<LatchWords>({
    {Latch::none, "nothing"},
    {Latch::power_up, "the driver was switched on"},
    {Latch::done, "the program ran to its end"},
    {Latch::operator_stop, "stopped by the operator"},
    {Latch::operator_cut, "the motor was commanded off by the operator"},
    {Latch::lid_open, "the lid was opened"},
    {Latch::link_lost, "the driver lost the link and stopped by itself"},
    {Latch::overspeed, "the speed went over the limit"},
    {Latch::stall, "the spindle stalled"},
    {Latch::tach_lost, "the tach's marks stopped coming"},
    {Latch::tach_implausible, "the tach does not fit the motor command (marks missed or "
                              "miscounted, or an emergency stop pressed)"},
    {Latch::watchdog_reset, "the driver's program hung and was reset"},
    {Latch::brown_out_reset, "the driver's supply dipped and it was reset"},
    {Latch::external_reset, "the driver was reset"},
    {Latch::new_host, "another program said hello to the driver"},
    {Latch::self_check, "the driver found its own memory or timing wrong"},
    {Latch::motor_fault, "the motor's power stage reports a fault"},
});

/// What a refusal says; with `bound`, also both numbers, each times `scale`, with `unit`.
struct NakWords {
  NakCode code;
  std::string_view words;
  std::string_view bound = {};
  double scale = 1.0;
  std::string_view unit = {};
};

constexpr auto kNakWords = std::to_array<NakWords>({
    {NakCode::unknown_type, "the driver does not know this type of message"},
    {NakCode::bad_length, "the driver expects another length of this message", "expects"},
    {NakCode::no_hello,
     "the driver has not been greeted (it was reset, or speaks no common version)"},
    {NakCode::bad_state, "the driver cannot do this in its present state"},
    {NakCode::turning, "the driver does not see standstill yet"},
    {NakCode::lid_open, "the lid is open"},
    {NakCode::lid_unknown, "the driver has no lid switch and nobody confirmed the lid"},
    {NakCode::bad_index, "segment number too high", "at most"},
    {NakCode::speed_high, "speed too high", "at most", 1e-3, " rpm"},
    {NakCode::speed_low, "speed too low", "at least", 1e-3, " rpm"},
    {NakCode::slope_high, "ramp too steep", "at most", 1e-3, " rpm/s"},
    {NakCode::slope_zero, "a ramp of zero never arrives"},
    {NakCode::too_many_segments, "too many segments", "at most"},
    {NakCode::segment_missing, "a segment of the program did not reach the driver"},
    {NakCode::program_differs, "the program at the driver is not the one that was sent"},
    {NakCode::token_used, "this start was used before"},
    {NakCode::tach_only, "this driver only counts tach pulses"},
    {NakCode::no_segments, "the program is empty"},
});

} // namespace

std::string to_text(Latch latch) {
  for (const auto& entry : kLatchWords)
    if (entry.latch == latch)
      return std::string(entry.words);
  return "the driver's reason number " + std::to_string(static_cast<int>(latch));
}

std::string to_text(DriverState state) {
  constexpr std::array<std::string_view, 5> kWords{"off", "ready", "starting", "running",
                                                   "stopping"};
  const auto place = static_cast<std::size_t>(state);
  return place < kWords.size() ? std::string(kWords[place]) : "state " + std::to_string(place);
}

std::string to_text(const Nak& nak) {
  for (const auto& entry : kNakWords) {
    if (entry.code != nak.code)
      continue;
    std::string text(entry.words);
    const auto said = [&](std::uint32_t value) {
      return number_text(value * entry.scale, 7) + std::string(entry.unit);
    };
    if (!entry.bound.empty())
      text +=
          ": asked " + said(nak.asked) + ", " + std::string(entry.bound) + " " + said(nak.allowed);
    return text;
  }
  return "the driver refused with code " + std::to_string(static_cast<int>(nak.code));
}

} // namespace whirler::link
