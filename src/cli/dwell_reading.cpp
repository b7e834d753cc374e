#include "dwell_reading.hpp"

#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

/// Whether the turn that begins at pulse `i` is near the speed.
bool is_near(const tach::PulseTrain& pulses, std::size_t i, std::size_t marks, Speed speed) {
  const double turn_s =
      static_cast<double>(pulses.ticks[i + marks] - pulses.ticks[i]) * pulses.tick.s();
  return turn_s > 0.0 && std::abs(1.0 / turn_s / speed.turns_per_s() - 1.0) < kSteady;
}

struct Piece {
  std::size_t from = 0;
  std::size_t to = 0; ///< one past
  [[nodiscard]] std::size_t size() const { return to - from; }
};

/// The longest run of pulses each of whose turns is near the speed. A lost or doubled pulse breaks
/// a few turns; it does not end the dwell.
Piece longest_piece(const tach::PulseTrain& pulses, std::size_t marks, Speed speed) {
  const std::size_t patience = 3 * marks;
  Piece best;
  Piece now;
  std::size_t last_near = 0;
  for (std::size_t i = 0; i + marks < pulses.size(); ++i) {
    if (!is_near(pulses, i, marks, speed))
      continue;
    if (now.to == 0 || i - last_near > patience)
      now = {i, i};
    last_near = i;
    now.to = i + marks;
    if (now.size() > best.size())
      best = now;
  }
  return best;
}

} // namespace

tach::PulseTrain dwell_pulses(const tach::PulseTrain& pulses, int marks_per_turn, Speed speed) {
  tach::PulseTrain dwell;
  dwell.tick = pulses.tick;
  if (marks_per_turn < 1 || !(speed.rpm() > 0.0))
    return dwell;
  const auto marks = static_cast<std::size_t>(marks_per_turn);
  Piece piece = longest_piece(pulses, marks, speed);
  const auto settling =
      static_cast<std::size_t>(kSettling.s() * speed.turns_per_s()) * marks; // pulses
  piece.from += std::min(settling, piece.size() / 2);
  if (piece.size() < 4 * marks)
    return dwell;
  const auto at = [](const auto& list, std::size_t i) {
    return list.begin() + static_cast<std::ptrdiff_t>(i);
  };
  dwell.ticks.assign(at(pulses.ticks, piece.from), at(pulses.ticks, piece.to));
  if (!pulses.marks.empty())
    dwell.marks.assign(at(pulses.marks, piece.from), at(pulses.marks, piece.to));
  return dwell;
}

Result<tach::OrderOne> dwell_reading(const tach::PulseTrain& pulses, int marks_per_turn,
                                     Speed speed) {
  const tach::PulseTrain dwell = dwell_pulses(pulses, marks_per_turn, speed);
  if (dwell.ticks.empty())
    return input_fault("the run never held " + number_text(speed.rpm(), 4) + " rpm", "pulses",
                       "let it dwell longer there, or choose a speed that the motor can hold");
  return tach::order_one(dwell, marks_per_turn);
}

} // namespace whirler::cli
