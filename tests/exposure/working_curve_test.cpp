#include "catch.hpp"
#include "whirler/exposure/advice.hpp"
#include "whirler/exposure/working_curve.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

using namespace whirler;
using namespace whirler::exposure;
using Catch::Matchers::ContainsSubstring;

namespace {

/// A wedge of a resist with D_p and E_c known, half-stop steps, 10 mW/cm2 for 60 s, gauge error
/// drawn by `error` [um].
template <class Error>
Wedge drawn(double film_um, double depth_um, double critical_mJ, int steps, Error error) {
  Wedge wedge{mW_per_cm2(10), seconds(60), micrometres(film_um), {}};
  for (int i = 0; i < steps; ++i) {
    const double density = 0.15 * (i + 1);
    const double dose = 600.0 * std::pow(10.0, -density);
    double left = depth_um * std::log(dose / critical_mJ);
    if (left > 0.0 && left < film_um)
      left += error();
    wedge.steps.push_back({density, micrometres(std::clamp(left, 0.0, film_um))});
  }
  return wedge;
}
double exactly() { return 0.0; }

/// All or nothing: a step stays where the dose hardens the film right through.
Wedge all_or_nothing(double film_um, double depth_um, double critical_mJ, int steps) {
  Wedge wedge{mW_per_cm2(10), seconds(60), micrometres(film_um), {}};
  const double needed = critical_mJ * std::exp(film_um / depth_um);
  for (int i = 0; i < steps; ++i) {
    const double density = 0.15 * (i + 1);
    const bool stays = 600.0 * std::pow(10.0, -density) >= needed;
    wedge.steps.push_back({density, micrometres(stays ? film_um : 0.0)});
  }
  return wedge;
}

WorkingCurve fitted(const std::vector<Wedge>& wedges) {
  const auto curve = fit(wedges);
  if (!curve)
    FAIL(curve.fault().what);
  return *curve;
}

} // namespace

TEST_CASE("published: the worked example, 0.175 mm and 8 mJ/cm2 cure 0.2313 mm at 30 mJ/cm2") {
  // Jacobs 1992, C_d = D_p ln(E/E_c).
  const auto curve = curve_of(millimetres(0.175), mJ_per_cm2(8));
  REQUIRE(curve.ok());
  CHECK(cured_depth(*curve, mJ_per_cm2(30))->mm() == Approx(0.2313).epsilon(0.001));
  const auto dose = dose_for(*curve, millimetres(0.2313));
  CHECK(dose->value.mJ_per_cm2() == Approx(30.0).epsilon(0.001));
  CHECK(time_for(*dose, mW_per_cm2(6))->value.s() == Approx(5.0).epsilon(0.001));
}

TEST_CASE("limit: below the critical dose nothing hardens") {
  const auto curve = curve_of(millimetres(0.175), mJ_per_cm2(8));
  CHECK(cured_depth(*curve, mJ_per_cm2(8))->um() == Approx(0.0).margin(1e-9));
  CHECK(cured_depth(*curve, mJ_per_cm2(3))->um() == 0.0);
}

TEST_CASE("exact: a wedge without error gives back depth and critical dose") {
  const WorkingCurve curve = fitted({drawn(60, 25, 20, 12, exactly)});
  CHECK(curve.separated);
  CHECK(curve.points >= 4);
  CHECK(curve.depth.value.um() == Approx(25).epsilon(1e-9));
  CHECK(curve.critical.value.mJ_per_cm2() == Approx(20).epsilon(1e-9));
  CHECK(curve.depth.low.um() < 25);
  CHECK(curve.depth.high.um() > 25);
  CHECK(dose_for(curve, micrometres(40))->value.mJ_per_cm2() ==
        Approx(20 * std::exp(40.0 / 25.0)).epsilon(1e-9));
}

TEST_CASE("film: with a gauge's error the truth lies in the intervals") {
  std::mt19937 random(7);
  std::normal_distribution<double> gauge(0.0, 0.03 * 60);
  int depth = 0;
  int critical = 0;
  int dose = 0;
  constexpr int kWedges = 1000;
  for (int i = 0; i < kWedges; ++i) {
    const WorkingCurve curve = fitted({drawn(60, 25, 20, 12, [&] { return gauge(random); })});
    depth += curve.depth.low.um() < 25 && curve.depth.high.um() > 25 ? 1 : 0;
    critical +=
        curve.critical.low.mJ_per_cm2() < 20 && curve.critical.high.mJ_per_cm2() > 20 ? 1 : 0;
    const auto needed = dose_for(curve, micrometres(50));
    const double truth = 20 * std::exp(2.0);
    dose += needed->low.mJ_per_cm2() < truth && needed->high.mJ_per_cm2() > truth ? 1 : 0;
  }
  for (const int inside : {depth, critical, dose}) {
    CHECK(inside > 0.93 * kWedges);
    CHECK(inside < 0.995 * kWedges); // an interval that always holds would be too wide
  }
}

TEST_CASE("film: one thickness with whole steps only gives seconds for that thickness alone") {
  const WorkingCurve curve = fitted({all_or_nothing(40, 25, 20, 12)});
  CHECK_FALSE(curve.separated);
  const auto dose = dose_for(curve, micrometres(40));
  REQUIRE(dose.ok());
  const double truth = 20 * std::exp(40.0 / 25.0);
  CHECK(dose->low.mJ_per_cm2() <= truth);
  CHECK(dose->high.mJ_per_cm2() >= truth);
  const auto other = dose_for(curve, micrometres(55));
  REQUIRE_FALSE(other.ok());
  CHECK_THAT(other.fault().what, ContainsSubstring("its own film of 40 um"));
  CHECK_FALSE(cured_depth(curve, mJ_per_cm2(100)).ok());
}

TEST_CASE("film: two thicknesses with whole steps only separate depth and critical dose") {
  const WorkingCurve curve =
      fitted({all_or_nothing(20, 25, 20, 14), all_or_nothing(60, 25, 20, 14)});
  CHECK(curve.separated);
  CHECK(curve.depth.low.um() < 25);
  CHECK(curve.depth.high.um() > 25);
  CHECK(curve.critical.low.mJ_per_cm2() < 20);
  CHECK(curve.critical.high.mJ_per_cm2() > 20);
}

TEST_CASE("film: one partly kept step still gives the seconds of its own film") {
  Wedge wedge{mW_per_cm2(10), seconds(60), micrometres(30), {}};
  wedge.steps = {{0.3, micrometres(30)}, {0.6, micrometres(14)}, {0.9, micrometres(0)}};
  const WorkingCurve curve = fitted({wedge});
  CHECK_FALSE(curve.separated);
  CHECK(dose_for(curve, micrometres(30)).ok());
  wedge.steps = {{0.6, micrometres(14)}, {0.9, micrometres(0)}};
  CHECK_FALSE(fit(std::vector<Wedge>{wedge}).ok());
}

TEST_CASE("film: a film outside those that the wedges show is known to be drawn on") {
  // Half-stop steps of 25 um depth: 8.6 um a step, so the shallowest that stands is 7.3 um.
  const WorkingCurve curve = fitted({drawn(60, 25, 20, 12, exactly)});
  CHECK(curve.deepest.um() == Approx(60));
  CHECK(curve.shallowest.um() > 0.0);
  CHECK(curve.shallowest.um() < 8.7);
  CHECK_FALSE(is_drawn_on(curve, micrometres(60)));
  CHECK_FALSE(is_drawn_on(curve, micrometres(20)));
  CHECK(is_drawn_on(curve, micrometres(80)));
  CHECK(is_drawn_on(curve, micrometres(2)));
  // A wedge that never kept its whole film shows no more than its deepest step.
  Wedge faint = drawn(60, 25, 20, 12, exactly);
  faint.steps.erase(faint.steps.begin(), faint.steps.begin() + 4);
  const WorkingCurve less = fitted({faint});
  CHECK(less.deepest < micrometres(45));
  CHECK(is_drawn_on(less, micrometres(60)));
  CHECK_FALSE(is_drawn_on(*curve_of(micrometres(25), mJ_per_cm2(20)), micrometres(500)));
}

TEST_CASE("film: more and farther steps narrow the depth") {
  const WorkingCurve few = fitted({drawn(30, 25, 20, 12, exactly)});
  const WorkingCurve many = fitted({drawn(90, 25, 20, 12, exactly)});
  CHECK(few.points < many.points);
  CHECK(few.depth.high / few.depth.low > many.depth.high / many.depth.low);
}

TEST_CASE("film: wedges that cannot be read are refused, each with its own reason") {
  const auto what = [](Wedge wedge) {
    const auto curve = fit(std::vector<Wedge>{std::move(wedge)});
    REQUIRE_FALSE(curve.ok());
    CHECK(curve.fault().kind == FaultKind::input);
    CHECK_FALSE(curve.fault().next.empty());
    return curve.fault().what;
  };
  const Wedge good = drawn(60, 25, 20, 12, exactly);
  Wedge bad = good;
  bad.irradiance = mW_per_cm2(0);
  CHECK_THAT(what(bad), ContainsSubstring("irradiance"));
  bad = good;
  bad.steps.clear();
  CHECK_THAT(what(bad), ContainsSubstring("no steps"));
  bad = good;
  bad.steps[3].left = micrometres(90);
  CHECK_THAT(what(bad), ContainsSubstring("kept 90 um of a film of 60 um"));
  bad = good;
  bad.steps[3].left = micrometres(-1);
  CHECK_THAT(what(bad), ContainsSubstring("-1 um"));
  bad = good;
  for (WedgeStep& step : bad.steps)
    step.left = micrometres(60);
  CHECK_THAT(what(bad), ContainsSubstring("every step kept"));
  for (WedgeStep& step : bad.steps)
    step.left = micrometres(0);
  CHECK_THAT(what(bad), ContainsSubstring("no step kept"));
  bad = good; // a positive resist: less left with more light
  for (WedgeStep& step : bad.steps)
    step.left = micrometres(60) - step.left;
  CHECK_THAT(what(bad), ContainsSubstring("kept less film"));
}

TEST_CASE("film: lamps, films and doses that cannot be are refused") {
  const auto curve = curve_of(micrometres(25), mJ_per_cm2(20));
  CHECK_FALSE(dose_for(*curve, micrometres(0)).ok());
  CHECK_FALSE(time_for(*dose_for(*curve, micrometres(20)), mW_per_cm2(0)).ok());
  CHECK_FALSE(time_for(*dose_for(*curve, millimetres(5)), mW_per_cm2(8)).ok()); // e^200
  CHECK(time_for(*dose_for(*curve, micrometres(200)), mW_per_cm2(8)).ok());     // e^8
  CHECK_FALSE(cured_depth(*curve, mJ_per_cm2(0)).ok());
  CHECK_FALSE(curve_of(micrometres(0), mJ_per_cm2(20)).ok());
  CHECK_FALSE(fit({}).ok());
}

TEST_CASE("film: a past exposure is judged against the interval, and strips beside it offered") {
  const Ranged<Duration> needed{seconds(20), seconds(17), seconds(24)};
  const auto over = judge(seconds(40), needed);
  REQUIRE(over.ok());
  CHECK(over->verdict == Verdict::over);
  CHECK(over->ratio == Approx(2.0));
  CHECK(over->wedge_steps == Approx(std::log10(2.0) / 0.15));
  CHECK(over->next_low <= seconds(17));
  CHECK(over->next_high >= seconds(23.8));
  CHECK(judge(seconds(18), needed)->verdict == Verdict::within);
  CHECK(judge(seconds(10), needed)->verdict == Verdict::under);
  CHECK_FALSE(judge(seconds(0), needed).ok());
}

TEST_CASE("exact: an uneven film's over-exposure is exp of its range over the depth") {
  const auto curve = curve_of(micrometres(25), mJ_per_cm2(20));
  const auto both = one_for_all(*curve, micrometres(18), micrometres(24), mW_per_cm2(8));
  REQUIRE(both.ok());
  CHECK(both->over_at_thinnest == Approx(std::exp(6.0 / 25.0)).epsilon(1e-12));
  CHECK(both->serves_both);
  CHECK_FALSE(one_for_all(*curve, micrometres(10), micrometres(40), mW_per_cm2(8))->serves_both);
  CHECK_FALSE(one_for_all(*curve, micrometres(24), micrometres(18), mW_per_cm2(8)).ok());
  CHECK_FALSE(one_for_all(*curve, micrometres(18), micrometres(24), mW_per_cm2(8), 0.5).ok());
}
