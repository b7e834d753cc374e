// The search for the mount that fits a run-up best: coarse trials from soft to stiff, then
// downhill.
#pragma once

#include "run_up_problem.hpp"
#include "whirler/tach/spinner_model.hpp"

#include <cmath>
#include <optional>
#include <vector>

namespace whirler::tach {

inline constexpr double kLeastDamping = 0.004;
inline constexpr double kMostDamping = 0.7;
inline constexpr double kSoftest = 6.2831853071795865 * 7.0; ///< rad/s; softer: 5 mm of sag, seen
                                                             ///< to sway by hand
inline constexpr double kUsualDamping =
    0.06;                               ///< where none is named: 0.01 to 0.3 within two spreads
inline constexpr double kFitsToo = 6.0; ///< chi^2 of two unknowns at 95 %

/// Order 1 and the mean alone: cogging changes the other orders with speed, and no pattern that is
/// the same at every speed would hold them.
[[nodiscard]] inline TurnBasis run_up_basis(std::size_t marks) { return TurnBasis(marks, 3, 1); }

/// Natural speed of the softest mount to be looked for, Hz.
[[nodiscard]] double softest_hz(const SpinnerModel& model);

/// What is searched over.
struct Point {
  double ln_wn;
  double ln_z;
  [[nodiscard]] MountNumbers mount() const { return {std::exp(ln_wn), std::exp(ln_z)}; }
};

/// Two natural speeds.
struct Pair {
  Point one;
  Point other;
  [[nodiscard]] Mounts mounts() const { return {one.mount(), other.mount()}; }
};

/// Least squares of the turns, and what the machine file or common sense expects of the mount.
struct Search {
  const RunUpProblem* problem;
  std::optional<double> named_wn;
  std::optional<double> named_z;
  double stiffest = 0.0; ///< rad/s
  double variance = 0.0; ///< scale of the penalties, rad^2

  /// Far from the mount that is named, as none is that was measured: 8 % of its natural speed, or
  /// 2.7 times its damping.
  [[nodiscard]] bool strays(Point at) const;
  [[nodiscard]] double penalty(Point at) const;
  [[nodiscard]] bool allowed(Point at) const;
  /// The softest mount that is looked for, rad/s: a named one may be softer than any other.
  [[nodiscard]] double softest() const;
  /// At the edge of what is looked for: the best is beyond it.
  [[nodiscard]] bool at_the_edge(Point at) const;
  [[nodiscard]] double cost(Point at) const;
  [[nodiscard]] double cost(const Pair& at) const;
  /// The same for any mount, whatever is named.
  [[nodiscard]] Search of_any() const;
};

/// Held to what the model names, if it does.
[[nodiscard]] Search by_name(const RunUpProblem* problem, const SpinnerModel& model);

struct Trial {
  Point at;
  double cost;
};

/// Natural speeds and dampings from soft to stiff, coarse enough to be quick and fine enough that
/// one of them lies in the valley of the best.
[[nodiscard]] std::vector<Trial> coarse_trials(const Search& search);

/// Nelder and Mead's simplex in two dimensions; `span` is the first triangle's size.
[[nodiscard]] Trial descend(const Search& search, Trial start, double span);

/// That with the least cost.
[[nodiscard]] Trial least_of(const std::vector<Trial>& tried);

/// A second descent, from a mount stiffer than any that was run at. A slight growth on such a mount
/// has another valley where the mount is soft: above its natural speed whirl and plumb together
/// make nearly anything. Of two that fit, the one that needs less plumb is the plainer.
[[nodiscard]] Trial or_stiff(const Search& search, const Trial& best);

} // namespace whirler::tach
