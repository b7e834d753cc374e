// A stretch of pulses as numbers a turn: the few orders of each turn that carry the slow speed and
// the once-per-turn vector, whatever the number of marks.
//
// Per turn the N lateness values are turned by an orthonormal transform into rows: the mean, then
// cosine and sine of order 1, 2, ... Up to 12 marks that is all of them; beyond, orders up to 4
// keep everything that a spline with one knot a turn can follow, and white noise stays white. So
// each turn costs the fit a dozen rows at most, and an order's pattern is one column that meets one
// row.
#pragma once

#include "whirler/tach/marked_pulses.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace whirler::tach {

inline constexpr std::size_t kMostRows = 12;
inline constexpr std::size_t kSplineWidth = 4; ///< cubic B-splines that are not zero in a turn

/// Values of the four cubic B-splines at `u` (0..1) of a knot interval.
[[nodiscard]] std::array<double, kSplineWidth> spline_values(double u);

/// The transform and the spline seen through it; a constant of the number of marks.
struct TurnBasis {
  /// All orders up to `most_rows` marks a turn; with more marks, `orders` of them.
  explicit TurnBasis(std::size_t marks, std::size_t most_rows = kMostRows, std::size_t orders = 4);

  std::size_t marks;
  std::size_t rows;
  std::vector<std::array<double, kMostRows>> transform; ///< by mark: its share in each row
  std::vector<std::array<double, kSplineWidth>> spline; ///< by mark: B-spline values
  std::vector<double> from_middle;                      ///< by mark: share of the turn
  /// By row: B-splines transformed, and B-splines times (u - 1/2) transformed (for a speed that
  /// rises within the turn).
  std::array<std::array<double, kSplineWidth>, kMostRows> spline_rows{};
  std::array<std::array<double, kSplineWidth>, kMostRows> spline_slope_rows{};
  /// Sum over the rows of the products of two B-splines; lower triangle.
  std::array<std::array<double, kSplineWidth>, kSplineWidth> spline_gram{};
  /// Amplitude of order 1 to the row's value: sqrt(N/2), or sqrt(N) for two marks.
  double order_one_scale;
};

/// A mark that was not seen (or not believed) and was filled in from the turns beside it.
struct FilledMark {
  std::size_t turn;
  std::size_t mark;
  double lateness; ///< rad, as filled in
};

/// Lateness against a reference spline of the stretch's own times, rad.
struct TurnRows {
  std::size_t rows = 0;       ///< a turn
  std::vector<double> values; ///< turn after turn
  std::vector<double> speed;  ///< a turn, rad/s, at the turn's middle
  std::vector<double> slope;  ///< a turn: relative change of speed over it
  std::vector<double> knots;  ///< time of mark 0 of each turn and of the end, s from the first
  std::vector<double> spline; ///< coefficients of the reference, s; turn i uses i..i+3
  std::vector<double> rate;   ///< ramps: speed at the knots, rad/s; empty in dwells
  std::vector<FilledMark> filled;
  /// By mark: mean over the turns of what the rows do not hold (orders beyond them), rad.
  std::vector<double> beyond_rows;
  double tick_s = 0.0;

  [[nodiscard]] std::size_t turns() const { return knots.empty() ? 0 : knots.size() - 1; }
  [[nodiscard]] std::span<const double> turn(std::size_t i) const {
    return {values.data() + i * rows, rows};
  }
};

/// Whole turns of a stretch, from its first mark 0 (or, unaligned, from its first slot). Holes are
/// filled in from the same mark a turn away and the pace of the marks beside it.
struct TurnSlots {
  std::vector<std::int64_t> ticks; ///< turns * N slots and one more, without holes
  std::vector<std::size_t> holes;  ///< slots that were filled in
  std::size_t first_slot = 0;      ///< of the stretch

  [[nodiscard]] std::size_t turns(std::size_t marks) const {
    return ticks.empty() ? 0 : (ticks.size() - 1) / marks;
  }
};
[[nodiscard]] TurnSlots whole_turns(Stretch stretch, std::size_t marks);

/// Fills the slots in `holes` (ascending) anew from their neighbours.
void fill_holes(std::span<std::int64_t> ticks, std::span<const std::size_t> holes,
                std::size_t marks);

/// What the lateness is held against. On a ramp from rest time over angle is a root, which no
/// spline follows: there the reference is a cubic of angle over time in each turn, exact at any
/// constant acceleration, and the spline has only its small error left to follow.
enum class Course { dwell, ramp };

/// Turns of a stretch, [from, to).
struct TurnRange {
  std::size_t from;
  std::size_t to;
};

/// Rows of the turns `piece` of a dwell `whole`, the same numbers whatever pieces it is read in. A
/// long dwell goes by in pieces that stay in the processor's cache: of its whole length there is
/// only what the caller keeps. The room that `out` has is used again. `beyond_rows` is left as
/// sums over the turns, and those that it has already are added to.
void lay_rows(TurnRows& out, const TurnBasis& basis, const TurnSlots& slots, Duration tick,
              TurnRange piece, TurnRange whole);
/// Such sums over `turns` become means of what no row holds.
[[nodiscard]] std::vector<double>
means_beyond_rows(const TurnBasis& basis, std::span<const double> sums, std::size_t turns);

/// Rows of turns [from, to).
[[nodiscard]] TurnRows turn_rows(const TurnBasis& basis, const TurnSlots& slots, Duration tick,
                                 std::size_t from, std::size_t to, Course course = Course::dwell);

/// How sharply the speed's slope changes over the three turns from knot i: the third divided
/// difference of angle over time, as an angle, rad; + where it rises. None on any constant slope. A
/// corner of a few hundredths is more than a spline can follow; its misfit rings for turns on both
/// sides.
[[nodiscard]] double bend_at(std::span<const double> knots, std::size_t i);
inline constexpr double kCorner = 0.015; ///< rad; beyond, turns are left out
inline constexpr double kTooFast = 0.3;  ///< relative change of speed in a turn; beyond, left out

/// Time (s from the first knot) and speed (rad/s) at the share `u` of turn i, of a ramp's
/// reference.
struct Moment {
  double time;
  double speed;
};
[[nodiscard]] Moment moment_of(const TurnRows& rows, std::size_t turn, double u);

/// Lateness of one mark against the rows' reference, rad; `from` as given to turn_rows.
[[nodiscard]] double lateness_of(const TurnRows& rows, const TurnBasis& basis,
                                 const TurnSlots& slots, std::size_t from, std::size_t turn,
                                 std::size_t mark);

} // namespace whirler::tach
