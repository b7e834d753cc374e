#include "whirler/units/speed_curve.hpp"

#include <algorithm>

namespace whirler {

Speed speed_at(const SpeedCurve& curve, Duration t) {
  if (curve.empty())
    return {};
  const auto after = std::upper_bound(curve.begin(), curve.end(), t,
                                      [](Duration at, const SpeedPoint& p) { return at < p.at; });
  if (after == curve.begin())
    return after->speed;
  const auto before = after - 1;
  if (after == curve.end())
    return before->speed;
  const double share = (t - before->at) / (after->at - before->at); // knots differ: t lies between
  return before->speed + share * (after->speed - before->speed);
}

} // namespace whirler
