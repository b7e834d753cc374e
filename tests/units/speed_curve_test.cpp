#include "catch.hpp"
#include "whirler/units/speed_curve.hpp"

#include <cmath>

using namespace whirler;

namespace {

/// A ramp and a dwell that hunts by 5 rpm, ten knots a second.
SpeedCurve record() {
  SpeedCurve curve;
  for (int i = 0; i <= 400; ++i) {
    const double t = 0.1 * i;
    curve.push_back({seconds(t), rpm(std::min(3000.0, 400.0 * t) + 5.0 * std::sin(9.0 * t))});
  }
  return curve;
}

double straight_rpm(const SpeedCurve& curve, Duration at) {
  std::size_t k = 0;
  while (k + 2 < curve.size() && curve[k + 1].at < at)
    ++k;
  const double share = (at - curve[k].at) / (curve[k + 1].at - curve[k].at);
  return curve[k].speed.rpm() + share * (curve[k + 1].speed - curve[k].speed).rpm();
}

} // namespace

TEST_CASE("units: a simplified curve has few knots and is nowhere farther off than was allowed") {
  const SpeedCurve whole = record();
  const SpeedCurve few = simplified(whole, rpm(12.0));
  CHECK(few.size() <= 6);
  CHECK(few.front().at == whole.front().at);
  CHECK(few.back().at == whole.back().at);
  for (const SpeedPoint& p : whole)
    CHECK(std::abs(straight_rpm(few, p.at) - p.speed.rpm()) <= 12.0 + 1e-9);
}

TEST_CASE("units: with no tolerance a crooked curve keeps its knots; a short one is left alone") {
  CHECK(simplified(record(), rpm(0.0)).size() > 300);
  CHECK(simplified({}, rpm(1.0)).empty());
  const SpeedCurve jump{{seconds(1), rpm(0)}, {seconds(1), rpm(500)}, {seconds(1), rpm(0)}};
  CHECK(simplified(jump, rpm(1.0)).size() == 3);
}
