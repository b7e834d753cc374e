#include "catch.hpp"
#include "whirler/film/speed_choice.hpp"

#include <cmath>
#include <vector>

using namespace whirler;
using namespace whirler::film;
using Catch::Matchers::ContainsSubstring;

namespace {

/// 1.62 um at 3000 rpm, half power.
Result<Estimate> curve(Speed speed) {
  return estimate(micrometres(1.62 * std::sqrt(3000.0 / speed.rpm())), 0.05);
}

const std::vector<SpeedLimit> kLimits = {
    {"machine", rpm(6000), true, true, "the machine's highest speed"},
    {"speed_min", rpm(200), false, true, "the machine's lowest speed"},
    {"laminar", rpm(5000), true, false, "even air out to the corners"}};

} // namespace

TEST_CASE("exact: the speed for a thickness turns the curve round") {
  const auto choice = choose_speed(curve, micrometres(1.2), {});
  REQUIRE(choice.ok());
  CHECK(choice->speed.rpm() == Approx(3000 * std::pow(1.62 / 1.2, 2)).epsilon(1e-9));
  CHECK(choice->estimate.thickness.um() == Approx(1.2).epsilon(1e-9));
  CHECK_FALSE(choice->binding.has_value());
}

TEST_CASE("film: the limit that is nearest binds, and a soft one that is passed is named") {
  const auto fast = choose_speed(curve, micrometres(1.2), kLimits);
  REQUIRE(fast.ok());
  CHECK(fast->binding == 2U);
  CHECK(fast->passed == std::vector<std::size_t>{2});
  const auto middle = choose_speed(curve, micrometres(1.62), kLimits);
  CHECK(middle->binding == 2U);
  CHECK(middle->passed.empty());
  const auto slow = choose_speed(curve, micrometres(5.8), kLimits);
  CHECK(slow->binding == 1U);
}

TEST_CASE("film: an impossible target says which limit stops it and what is possible") {
  const auto thin = choose_speed(curve, micrometres(0.5), kLimits);
  REQUIRE_FALSE(thin.ok());
  CHECK(thin.fault().kind == FaultKind::input);
  CHECK_THAT(thin.fault().what, ContainsSubstring("machine's highest speed, 6000 rpm"));
  CHECK_THAT(thin.fault().next, ContainsSubstring("1.15 um to 6.27 um"));
  const auto thick = choose_speed(curve, micrometres(50), kLimits);
  REQUIRE_FALSE(thick.ok());
  CHECK_THAT(thick.fault().what, ContainsSubstring("machine's lowest speed, 200 rpm"));
  CHECK_THAT(thick.fault().next, ContainsSubstring("second coat"));
}

TEST_CASE("limit: a target that is a limit's own film is possible") {
  CHECK(choose_speed(curve, curve(rpm(6000))->thickness, kLimits).ok());
  CHECK(choose_speed(curve, curve(rpm(200))->thickness, kLimits).ok());
}

TEST_CASE("film: limits that leave no speed, and targets that are none, are refused") {
  const std::vector<SpeedLimit> crossed = {
      {"balance_grade", rpm(150), true, true, "the balance grade's speed"},
      {"speed_min", rpm(200), false, true, "the machine's lowest speed"}};
  const auto none = choose_speed(curve, micrometres(1.2), crossed);
  REQUIRE_FALSE(none.ok());
  CHECK_THAT(none.fault().what, ContainsSubstring("no speed is left"));
  CHECK_FALSE(choose_speed(curve, micrometres(0), kLimits).ok());
  CHECK_FALSE(choose_speed(curve, micrometres(-1), kLimits).ok());
}

TEST_CASE("film: speeds at which the curve has no answer are passed over from below") {
  const auto sets_from_400 = [](Speed speed) -> Result<Estimate> {
    if (speed < rpm(400))
      return input_fault("does not set", "", "wait");
    return curve(speed);
  };
  CHECK(choose_speed(sets_from_400, micrometres(1.62), kLimits)->speed.rpm() ==
        Approx(3000).epsilon(1e-6));
  const auto thick = choose_speed(sets_from_400, micrometres(6.0), kLimits);
  REQUIRE_FALSE(thick.ok());
  CHECK_THAT(thick.fault().what, ContainsSubstring("still sets"));
  const auto never = [](Speed) -> Result<Estimate> {
    return input_fault("does not set", "", "wait");
  };
  CHECK(choose_speed(never, micrometres(1.62), kLimits).fault().what == "does not set");
}
