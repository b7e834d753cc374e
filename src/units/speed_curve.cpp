#include "whirler/units/speed_curve.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <utility>

namespace whirler {
namespace {

/// The knot between two others that lies farthest from the straight line through them.
std::size_t farthest_knot(const SpeedCurve& curve, std::size_t from, std::size_t to, double& off) {
  std::size_t worst = from;
  off = 0.0;
  const double span_s = (curve[to].at - curve[from].at).s();
  for (std::size_t i = from + 1; i < to; ++i) {
    const double share = span_s > 0.0 ? (curve[i].at - curve[from].at).s() / span_s : 0.0;
    const Speed straight = curve[from].speed + share * (curve[to].speed - curve[from].speed);
    const double miss = std::abs((curve[i].speed - straight).rpm());
    if (miss > off) {
      off = miss;
      worst = i;
    }
  }
  return worst;
}

} // namespace

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

SpeedCurve simplified(const SpeedCurve& curve, Speed tolerance) {
  if (curve.size() < 3)
    return curve;
  std::vector<bool> kept(curve.size(), false);
  kept.front() = kept.back() = true;
  std::vector<std::pair<std::size_t, std::size_t>> pieces{{0, curve.size() - 1}};
  while (!pieces.empty()) {
    const auto [from, to] = pieces.back();
    pieces.pop_back();
    double off = 0.0;
    const std::size_t worst = farthest_knot(curve, from, to, off);
    if (off <= tolerance.rpm())
      continue;
    kept[worst] = true;
    pieces.emplace_back(from, worst);
    pieces.emplace_back(worst, to);
  }
  SpeedCurve made;
  for (std::size_t i = 0; i < curve.size(); ++i)
    if (kept[i])
      made.push_back(curve[i]);
  return made;
}

} // namespace whirler
