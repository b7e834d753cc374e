#include "named_mount.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kUsualDamping = 0.06;
constexpr double kLeastDamping = 0.002;
constexpr double kMostDamping = 0.7;

} // namespace

MountNumbers as_named(const SpinnerModel& model) {
  return {kTwoPi * model.natural->Hz(),
          model.damping ? std::clamp(*model.damping, kLeastDamping, kMostDamping) : kUsualDamping};
}

Bounded far_above(const Bounded& seen, const SpinnerModel& model, double w, double own) {
  constexpr double kTyped = 0.05;
  const MountNumbers named = as_named(model);
  std::array<double, 5> dampings{kUsualDamping, 0.01, 0.03, 0.12, 0.3};
  if (model.damping)
    dampings.fill(named.z);
  const double estimate = seen.estimate / std::abs(steady_gain(named, w));
  double low = estimate;
  double high = estimate;
  for (const double z : dampings)
    for (const double share : {1.0 - kTyped, 1.0, 1.0 + kTyped}) {
      const double gain = std::abs(steady_gain({share * named.wn, z}, w));
      low = std::min(low, seen.low / gain);
      high = std::max(high, seen.high / gain);
    }
  const double wide = own * estimate;
  return {std::max(0.0, estimate - std::hypot(estimate - low, wide)), estimate,
          estimate + std::hypot(high - estimate, wide)};
}

} // namespace whirler::tach
