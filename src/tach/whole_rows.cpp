#include "whole_rows.hpp"

#include <algorithm>
#include <vector>

namespace whirler::tach {
namespace {

constexpr double kAlone = 1.5;       ///< an interval over both its neighbours: a pulse is missing
constexpr double kTooShort = 0.66;   ///< one or two under both theirs: one is too many
constexpr std::size_t kTurnsOf = 33; ///< from which the marks' shares are taken
constexpr std::size_t kMostChecked = 3; ///< intervals on that a check looks

/// Usual share of a turn of the interval that ends at a row, by row modulo marks: medians over
/// turns from all of the record. Empty where one is none.
std::vector<double> usual_shares(std::span<const std::int64_t> ticks, std::size_t per_turn) {
  const std::size_t turns = (ticks.size() - 1) / per_turn;
  const std::size_t every = std::max<std::size_t>(1, turns / kTurnsOf);
  std::vector<double> shares(per_turn);
  std::vector<double> seen;
  for (std::size_t k = 0; k < per_turn; ++k) {
    seen.clear();
    for (std::size_t turn = 0; turn < turns; turn += every) {
      const std::size_t row = turn * per_turn + (k == 0 ? per_turn : k);
      const auto whole = static_cast<double>(ticks[(turn + 1) * per_turn] - ticks[turn * per_turn]);
      if (whole > 0.0)
        seen.push_back(static_cast<double>(ticks[row] - ticks[row - 1]) / whole);
    }
    if (seen.empty())
      return {};
    const auto middle = seen.begin() + static_cast<std::ptrdiff_t>(seen.size() / 2);
    std::nth_element(seen.begin(), middle, seen.end());
    if (!(*middle > 0.0))
      return {};
    shares[k] = *middle;
  }
  return shares;
}

/// The first rows, up to the last one that a mark number places where the first ones do; all where
/// none is numbered. Index marks go first: a source that counts on from them may count wrong.
std::size_t rows_that_agree(std::span<const std::int16_t> marks, std::size_t rows,
                            std::size_t per_turn) {
  const bool index = std::find(marks.begin(), marks.end(), std::int16_t{0}) != marks.end();
  std::size_t agreed = rows;
  std::size_t residue = per_turn;
  std::size_t last = 0;
  for (std::size_t row = 0; row < marks.size() && agreed == rows; ++row) {
    if (index ? marks[row] != 0 : marks[row] < 0)
      continue;
    const std::size_t now =
        (row + per_turn - static_cast<std::size_t>(marks[row]) % per_turn) % per_turn;
    if (residue != per_turn && now != residue)
      agreed = last + 1;
    residue = now;
    last = row;
  }
  // An index that stays away for longer than a turn is one that was missed.
  return residue != per_turn && last + per_turn < agreed ? last + 1 : agreed;
}

/// Intervals in a row, each over its mark's usual share: whether the second, or the second and the
/// third, are no part of a rise or a fall.
bool stands_out(double before, double now, double next, double after) {
  return now > kAlone * std::max(before, next) ||
         std::min(now, next) > kAlone * std::max(before, after) ||
         now < kTooShort * std::min(before, next) ||
         std::max(now, next) < kTooShort * std::min(before, after);
}

/// The turn before `row` against the turn after the next one: more than a fault in either changes.
bool is_steep(std::span<const std::int64_t> ticks, std::size_t row, std::size_t per_turn) {
  if (row < per_turn || row + 2 * per_turn >= ticks.size())
    return false;
  const double steep = per_turn < 3 ? 2.2 : 1.5;
  const auto before = static_cast<double>(ticks[row] - ticks[row - per_turn]);
  const auto after = static_cast<double>(ticks[row + 2 * per_turn] - ticks[row + per_turn]);
  return before > steep * after || after > steep * before;
}

} // namespace

std::size_t whole_rows(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks,
                       std::size_t marks_per_turn) {
  if (ticks.size() < 3 * marks_per_turn + kMostChecked + 1)
    return 0;
  const auto shares = usual_shares(ticks, marks_per_turn);
  if (shares.empty())
    return 0;
  const auto pace = [&](std::size_t row) {
    return static_cast<double>(ticks[row] - ticks[row - 1]) / shares[row % marks_per_turn];
  };
  const std::size_t rows = rows_that_agree(marks, ticks.size(), marks_per_turn);
  std::size_t steep_to = 0;
  double before = pace(1);
  double now = pace(2);
  double next = pace(3);
  for (std::size_t row = 2; row + 2 < rows; ++row) {
    const double after = pace(row + 2);
    if (stands_out(before, now, next, after))
      return std::min(steep_to, row - 1);
    if (is_steep(ticks, row, marks_per_turn))
      steep_to = row + 3 * marks_per_turn;
    before = now;
    now = next;
    next = after;
  }
  return std::min(steep_to, rows);
}

} // namespace whirler::tach
