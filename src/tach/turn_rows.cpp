#include "turn_rows.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

} // namespace

std::array<double, kSplineWidth> spline_values(double u) {
  const double v = 1.0 - u;
  return {v * v * v / 6.0, (4.0 - 3.0 * u * u * (2.0 - u)) / 6.0,
          (4.0 - 3.0 * v * v * (2.0 - v)) / 6.0, u * u * u / 6.0};
}

TurnBasis::TurnBasis(std::size_t n, std::size_t most_rows, std::size_t orders)
    : marks(n), rows(n <= most_rows ? n : 2 * orders + 1), transform(n), spline(n), from_middle(n),
      order_one_scale(std::sqrt(static_cast<double>(n) / (n == 2 ? 1.0 : 2.0))) {
  const auto count = static_cast<double>(n);
  for (std::size_t k = 0; k < n; ++k) {
    const double u = static_cast<double>(k) / count;
    spline[k] = spline_values(u);
    from_middle[k] = u - 0.5;
    transform[k].fill(0.0);
    for (std::size_t r = 0; r < rows; ++r) {
      const std::size_t order = (r + 1) / 2;
      // k * order mod n keeps the angle small and the transform orthogonal to the last digit.
      const double angle = kTwoPi * static_cast<double>(k * order % n) / count;
      const double size =
          r == 0 || 2 * order == n ? std::sqrt(1.0 / count) : std::sqrt(2.0 / count);
      transform[k][r] = size * (r % 2 == 1 ? std::cos(angle) : r == 0 ? 1.0 : std::sin(angle));
      for (std::size_t q = 0; q < kSplineWidth; ++q) {
        spline_rows[r][q] += transform[k][r] * spline[k][q];
        spline_slope_rows[r][q] += transform[k][r] * spline[k][q] * (u - 0.5);
      }
    }
  }
  for (std::size_t r = 0; r < rows; ++r)
    for (std::size_t i = 0; i < kSplineWidth; ++i)
      for (std::size_t j = 0; j <= i; ++j)
        spline_gram[i][j] += spline_rows[r][i] * spline_rows[r][j];
}

namespace {

/// Time that the slot should have by the same mark a turn before (or after) and its neighbours'
/// pace; none where those are missing too.
bool fill_from_turn(std::span<std::int64_t> ticks, std::size_t slot, std::ptrdiff_t turn) {
  const auto at = static_cast<std::ptrdiff_t>(slot);
  const auto size = static_cast<std::ptrdiff_t>(ticks.size());
  const auto value = [&](std::ptrdiff_t i) {
    return i >= 0 && i < size ? ticks[static_cast<std::size_t>(i)] : kHole;
  };
  const std::int64_t same = value(at + turn);
  std::int64_t sum = 0;
  std::int64_t found = 0;
  for (const std::ptrdiff_t side : {-1, 1})
    if (value(at + side) != kHole && value(at + side + turn) != kHole) {
      sum += value(at + side) - value(at + side + turn);
      ++found;
    }
  if (same == kHole || found == 0)
    return false;
  ticks[slot] = same + sum / found;
  return true;
}

/// Straight between the nearest filled slots, or on from two of them at an end.
void fill_straight(std::span<std::int64_t> ticks, std::size_t slot) {
  std::size_t after = slot + 1;
  while (after < ticks.size() && ticks[after] == kHole)
    ++after;
  if (slot == 0) { // only before an aligned stretch's first pulse: whole_turns fills from behind
    const std::size_t next = after + 1 < ticks.size() ? after + 1 : after;
    ticks[slot] = ticks[after] - static_cast<std::int64_t>(after) * (ticks[next] - ticks[after]);
    return;
  }
  const std::int64_t before = ticks[slot - 1];
  if (after < ticks.size())
    ticks[slot] = before + (ticks[after] - before) / static_cast<std::int64_t>(after - slot + 1);
  else
    ticks[slot] = before + (slot > 1 ? before - ticks[slot - 2] : 1);
}

} // namespace

void fill_holes(std::span<std::int64_t> ticks, std::span<const std::size_t> holes,
                std::size_t marks) {
  for (const std::size_t slot : holes)
    ticks[slot] = kHole;
  const auto turn = static_cast<std::ptrdiff_t>(marks);
  for (const std::size_t slot : holes)
    if (!fill_from_turn(ticks, slot, -turn) && !fill_from_turn(ticks, slot, turn))
      fill_straight(ticks, slot);
}

TurnSlots whole_turns(Stretch stretch, std::size_t marks) {
  TurnSlots out;
  const auto first = static_cast<std::size_t>(stretch.first_mark);
  out.first_slot = stretch.aligned ? (marks - first) % marks : 0;
  if (stretch.size() < out.first_slot + marks + 1)
    return out;
  const std::size_t turns = (stretch.size() - 1 - out.first_slot) / marks;
  out.ticks = std::move(stretch.ticks);
  const auto begin = out.ticks.begin();
  out.ticks.erase(begin, begin + static_cast<std::ptrdiff_t>(out.first_slot));
  out.ticks.resize(turns * marks + 1);
  for (std::size_t slot = 0; slot < out.ticks.size(); ++slot)
    if (out.ticks[slot] == kHole)
      out.holes.push_back(slot);
  fill_holes(out.ticks, out.holes, marks);
  return out;
}

} // namespace whirler::tach
