#include "catch.hpp"
#include "whirler/profile/timeline.hpp"

#include <limits>

using namespace whirler;
using namespace whirler::profile;
using Catch::Matchers::ContainsSubstring;

namespace {

/// 0.5 s up to 500, 5 s there, 2.5 s up to 3000, 45 s there, 3 s down.
Profile two_steps() {
  return {"two steps",
          {{"spread", rpm(500), rpm_per_s(1000), seconds(5)},
           {"thin", rpm(3000), rpm_per_s(1000), seconds(45)}},
          rpm_per_s(1000)};
}

} // namespace

TEST_CASE("exact: slopes and dwells add up to the timeline worked by hand") {
  const auto laid = timeline(two_steps());
  REQUIRE(laid.ok());
  REQUIRE(laid->segments.size() == 3);
  const Segment& thin = laid->segments[1];
  CHECK(laid->segments[0].ramp.s() == Approx(0.5));
  CHECK(thin.start.s() == Approx(5.5));
  CHECK(thin.ramp.s() == Approx(2.5));
  CHECK(thin.dwell_start().s() == Approx(8.0));
  CHECK(thin.end().s() == Approx(53.0));
  CHECK(laid->stop().step == 2);
  CHECK(laid->stop().from == rpm(3000));
  CHECK(laid->stop().to == Speed{});
  CHECK(laid->stop().ramp.s() == Approx(3.0));
  CHECK(laid->total().s() == Approx(56.0));
  CHECK(laid->top_speed() == rpm(3000));
  CHECK_FALSE(laid->has_jump());
}

TEST_CASE("exact: speed is straight along ramps, flat in dwells, and rest outside") {
  const auto laid = timeline(two_steps());
  REQUIRE(laid.ok());
  const auto speed = [&](double s) { return speed_at(*laid, seconds(s)).rpm(); };
  CHECK(speed(-1) == 0.0);
  CHECK(speed(0) == 0.0);
  CHECK(speed(0.25) == Approx(250));
  CHECK(speed(3) == Approx(500));
  CHECK(speed(6.75) == Approx(1750));
  CHECK(speed(30) == Approx(3000));
  CHECK(speed(54.5) == Approx(1500));
  CHECK(speed(56) == Approx(0).margin(1e-9));
  CHECK(speed(1e9) == 0.0);
}

TEST_CASE("exact: a ramp time gives the slope that arrives in that time, down as well as up") {
  Profile p = two_steps();
  p.steps[0].approach = seconds(4);
  p.steps.push_back({"slow", rpm(800), seconds(2), seconds(1)});
  const auto laid = timeline(p);
  REQUIRE(laid.ok());
  CHECK(laid->segments[0].slope.rpm_per_s() == Approx(125));
  CHECK(laid->segments[2].slope.rpm_per_s() == Approx(1100));
  CHECK(speed_at(*laid, laid->segments[2].start + seconds(1)).rpm() == Approx(1900));
  CHECK(laid->stop().from == rpm(800));
  CHECK(laid->steepest().rpm_per_s() == Approx(1100));
}

TEST_CASE(
    "timeline: a step at the speed already reached costs no ramp by slope, its time by time") {
  Profile p = two_steps();
  p.steps.push_back({"again", rpm(3000), rpm_per_s(10), seconds(7)});
  p.steps.push_back({"wait", rpm(3000), seconds(4), seconds(0)});
  const auto laid = timeline(p);
  REQUIRE(laid.ok());
  CHECK(laid->segments[2].ramp == Duration{});
  CHECK_FALSE(laid->segments[2].is_jump());
  CHECK(laid->segments[3].ramp.s() == Approx(4));
  CHECK(laid->segments[3].slope == Ramp{});
  CHECK(laid->total().s() == Approx(67));
}

TEST_CASE("timeline: a ramp in no time is a jump, flagged, with two knots at one time") {
  Profile p = two_steps();
  p.steps[1].approach = seconds(0);
  const auto laid = timeline(p);
  REQUIRE(laid.ok());
  CHECK(laid->has_jump());
  CHECK(laid->segments[1].is_jump());
  CHECK(speed_at(*laid, seconds(5.499999)).rpm() == Approx(500));
  CHECK(speed_at(*laid, seconds(5.5)).rpm() == Approx(3000));
  CHECK(laid->total().s() == Approx(53.5));
  CHECK(laid->steepest().rpm_per_s() == Approx(1000));
}

TEST_CASE("timeline: a profile that ends at rest still has a stop segment, of no length") {
  Profile p = two_steps();
  p.steps.push_back({"rest", rpm(0), rpm_per_s(500), seconds(4)});
  const auto laid = timeline(p);
  REQUIRE(laid.ok());
  REQUIRE(laid->segments.size() == 4);
  CHECK(laid->stop().ramp == Duration{});
  CHECK_FALSE(laid->stop().is_jump());
  CHECK(laid->total().s() == Approx(63));
}

TEST_CASE("timeline: knots rise in time and the curve says the same as the segments") {
  Profile p = two_steps();
  p.steps.insert(p.steps.begin(), {"soak", rpm(0), seconds(0), seconds(6)});
  const auto laid = timeline(p);
  REQUIRE(laid.ok());
  for (std::size_t i = 1; i < laid->curve.size(); ++i)
    CHECK(laid->curve[i - 1].at < laid->curve[i].at);
  for (const Segment& s : laid->segments) {
    CHECK(speed_at(*laid, s.start).rpm() == Approx(s.from.rpm()).margin(1e-9));
    CHECK(speed_at(*laid, s.dwell_start()).rpm() == Approx(s.to.rpm()).margin(1e-9));
  }
}

TEST_CASE("timeline: a time finds its segment, a border belongs to the later one") {
  const auto laid = timeline(two_steps());
  REQUIRE(laid.ok());
  CHECK(segment_at(*laid, seconds(-3)).step == 0);
  CHECK(segment_at(*laid, seconds(5.4)).step == 0);
  CHECK(segment_at(*laid, laid->segments[1].start).step == 1);
  CHECK(segment_at(*laid, seconds(100)).step == 2);
}

TEST_CASE("timeline: every mistake of a profile is named with its step") {
  constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
  constexpr double kInf = std::numeric_limits<double>::infinity();
  const Profile p{"bad",
                  {{"a", rpm(-1), rpm_per_s(0), seconds(kNan)}, {"", rpm(kInf), seconds(-2), {}}},
                  rpm_per_s(0)};
  const auto faults = faults_of(p);
  REQUIRE(faults.size() == 6);
  CHECK(faults[0].where == "step 1 'a'");
  CHECK_THAT(faults[1].what, ContainsSubstring("ramp"));
  CHECK_THAT(faults[2].what, ContainsSubstring("dwell"));
  CHECK(faults[3].where == "step 2");
  CHECK_THAT(faults[4].what, ContainsSubstring("ramp time"));
  CHECK(faults[5].where == "stop");
  CHECK(timeline(p).fault() == faults[0]);
}

TEST_CASE("timeline: no steps, no turning, and a length past counting are refused") {
  CHECK_FALSE(timeline({"none", {}, rpm_per_s(100)}).ok());
  CHECK_FALSE(timeline({"still", {{"", rpm(0), seconds(0), seconds(5)}}, rpm_per_s(100)}).ok());
  const Duration most = seconds(std::numeric_limits<double>::max());
  const Step endless{"", rpm(100), rpm_per_s(100), most};
  CHECK_FALSE(timeline({"long", {endless, endless}, rpm_per_s(100)}).ok());
}

TEST_CASE("speed curve: no knot is rest, one knot is a constant") {
  CHECK(speed_at(SpeedCurve{}, seconds(3)) == Speed{});
  CHECK(speed_at(SpeedCurve{{seconds(1), rpm(700)}}, seconds(0)) == rpm(700));
  CHECK(speed_at(SpeedCurve{{seconds(1), rpm(700)}}, seconds(9)) == rpm(700));
}
