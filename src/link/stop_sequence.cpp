#include "whirler/link/stop_sequence.hpp"

namespace whirler::link {

std::optional<StopKind> take_stops(StopDetector& detector, std::span<const std::uint8_t> received,
                                   std::vector<std::uint8_t>& rest) {
  std::optional<StopKind> seen;
  for (const std::uint8_t byte : received) {
    const auto stop = detector.feed(byte);
    if (stop && seen != StopKind::cut)
      seen = stop;
    if (!is_stop_byte(byte))
      rest.push_back(byte);
  }
  return seen;
}

} // namespace whirler::link
