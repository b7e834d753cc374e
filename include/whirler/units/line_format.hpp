// How characters go over a serial line. Here, at the bottom, since a machine file says it, a port
// is opened by it, and a protocol's silences are counted in it.
#pragma once

#include "whirler/units/quantities.hpp"

#include <cstddef>

namespace whirler {

enum class Parity { none, even, odd };

struct LineFormat {
  int baud = 115200; ///< bits a second
  Parity parity = Parity::none;
  int stop_bits = 1; ///< 1 or 2

  /// Start bit, eight bits, parity, stop bits.
  [[nodiscard]] constexpr int bits_a_character() const {
    return 1 + 8 + (parity == Parity::none ? 0 : 1) + stop_bits;
  }
  /// How long the line takes to carry so many characters without a gap.
  [[nodiscard]] constexpr Duration time_of(std::size_t characters) const {
    return seconds(static_cast<double>(characters) * bits_a_character() / baud);
  }
  friend bool operator==(const LineFormat&, const LineFormat&) = default;
};

} // namespace whirler
