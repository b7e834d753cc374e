// A mount's two columns, Re and Im of its whirl, beside a least squares that all mounts share.
//
// What the turns say of spline, pattern and plumb is the same whatever the mount: it is eliminated
// once (elimination.hpp), and each mount's two columns follow with the rows that the elimination
// leaves. So a turn costs a mount two columns and not a whole triangle, and what a mount adds to
// the fit is a system of two by two.
#pragma once

#include "elimination.hpp"
#include "mount_motion.hpp"

#include <array>
#include <span>

namespace whirler::tach {

inline constexpr std::size_t kLiveRows = 3; ///< the mean and order 1
/// Spline, pattern, plumb, data; made even for the vectoriser.
inline constexpr std::size_t kSharedWidth = 10;
using SharedRow = std::array<double, kSharedWidth>;

/// What a turn adds to the shared fit, weighed, and what its elimination leaves.
struct SharedTurn {
  std::array<SharedRow, kLiveRows> design{}; ///< all nothing where the turn is left out
  SharedRow pivot{};
  double by_pivot = 0.0; ///< one over pivot[0]
  double weight = 1.0;
};

/// The shared fit at one moment, without any whirl.
struct SharedFit {
  std::array<SharedRow, kSplineWidth - 1> pivots{}; ///< of the last spline coefficients
  std::array<double, kSplineWidth - 1> by_pivot{};
  BorderSolution without;
  double observations = 0.0;
};
[[nodiscard]] SharedFit shared_fit(const Elimination& fit);

/// The fit with the whirl in it.
struct WhirlSolution {
  bool solvable = false;
  Complex far_above;                          ///< K, rad
  std::array<double, kMostBorder> border{};   ///< pattern, then plumb
  std::array<double, kMostBorder> variance{}; ///< of each of them, for unit noise
  double far_variance = 0.0;                  ///< of the worse part of K, for unit noise
  double rss = 0.0;
};

class WhirlColumns {
 public:
  /// `re` and `im`: the whirl's rows of this turn, not weighed.
  void add_turn(const SharedTurn& turn, const std::array<double, kLiveRows>& re,
                const std::array<double, kLiveRows>& im);
  /// The spline runs on by a turn.
  void next_knot(const SharedTurn& turn);
  [[nodiscard]] WhirlSolution solve(const SharedFit& shared) const;

 private:
  void eliminate(const SharedRow& pivot, double by_pivot, std::size_t first);

  SharedRow re_{}; ///< products with the shared columns
  SharedRow im_{};
  double re_re_ = 0.0;
  double re_im_ = 0.0;
  double im_im_ = 0.0;
};

} // namespace whirler::tach
