// The wire between host and chip: 500000 baud both ways, in the chip's time, as bad as asked for.
#pragma once

#include "chip.hpp"

#include <functional>
#include <random>
#include <span>

namespace bench {

class SerialLine {
 public:
  static constexpr Cycles kByteCycles = 320; ///< ten bits at 500000 baud

  SerialLine(Chip& chip, std::uint64_t seed);

  /// Queues bytes towards the chip: each takes ten bits, the next begins when it has gone.
  void send(std::span<const std::uint8_t> bytes);
  /// Called with every byte that the host gets, when its last bit is in.
  void on_received(std::function<void(std::uint8_t)> listener) { listener_ = std::move(listener); }

  /// From now on every byte, either way, has one bit flipped with this probability.
  void damage(double probability) { damage_ = probability; }
  /// Pulls the cable, or puts it back.
  void connect(bool connected) { connected_ = connected; }
  /// When the last byte sent will have reached the chip.
  [[nodiscard]] Cycles idle_from() const { return free_; }
  [[nodiscard]] std::uint64_t damaged() const { return damaged_; }

 private:
  [[nodiscard]] std::uint8_t carried(std::uint8_t byte);

  Chip& chip_;
  std::function<void(std::uint8_t)> listener_;
  std::mt19937_64 random_;
  double damage_ = 0.0;
  bool connected_ = true;
  Cycles free_ = 0;
  std::uint64_t damaged_ = 0;
};

} // namespace bench
