#include "serial_line.hpp"

#include <algorithm>

namespace bench {

SerialLine::SerialLine(Chip& chip, std::uint64_t seed) : chip_(chip), random_(seed) {
  chip_.on_sent([this](std::uint8_t byte) {
    if (connected_ && listener_)
      listener_(carried(byte));
  });
}

std::uint8_t SerialLine::carried(std::uint8_t byte) {
  std::uniform_real_distribution<double> chance(0.0, 1.0);
  if (damage_ <= 0.0 || chance(random_) >= damage_)
    return byte;
  ++damaged_;
  return static_cast<std::uint8_t>(byte ^ (1U << (random_() % 8)));
}

void SerialLine::send(std::span<const std::uint8_t> bytes) {
  free_ = std::max(free_, chip_.now());
  for (const std::uint8_t byte : bytes) {
    chip_.at(free_, [this, byte] {
      if (connected_)
        chip_.receive(carried(byte));
    });
    free_ += kByteCycles;
  }
}

} // namespace bench
