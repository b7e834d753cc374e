// A second natural speed: a mount softer in one direction, or a spindle that tilts as well. The
// truth is Jeffcott's steady response along each axis, in closed form.
#include "analysed.hpp"

#include <algorithm>
#include <complex>

using namespace whirler;
using namespace whirler::tach;
using namespace pulse_maker;
using namespace whirler::test;

namespace {

struct RunUpOf {
  Spinner spinner;
  SpinnerModel model;
  double top_rad_s = 0.0;
};

RunUpOf ordinary(std::uint64_t seed) {
  std::mt19937_64 random(seed * 7919);
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  constexpr std::array<int, 6> kMarks{3, 4, 6, 8, 24, 60};
  RunUpOf out;
  Spinner& s = out.spinner;
  s.marks = kMarks[seed % 6];
  s.noise_rad = std::min(between(5e-5, 3e-4), 0.02 / s.marks);
  s.tick_s = 62.5e-9;
  s.pattern = random_pattern(s.marks, std::min(4e-3, 0.2 / s.marks), random);
  s.motion = {{0.0}, {between(150, 300) * kRpm}};
  s.motion.go_to(s.motion.speed[0] / kRpm + 1.0, 200, 1)
      .go_to(between(2200, 3600), between(150, 500), 3);
  s.motion.hunting = 0.001;
  s.mount.natural_hz = between(11, 26);
  s.mount.damping = between(0.03, 0.15);
  s.mount.heavy_side_deg = between(0, 360);
  s.mount.unbalance_kg_m = between(8, 40) * 1e-6;
  out.top_rad_s = s.motion.speed.back();
  out.model.marks_per_turn = s.marks;
  out.model.mark_radius = metres(s.mount.mark_radius_m);
  out.model.moving_mass = kilograms(s.mount.moving_kg);
  out.model.rotor_mass = grams(300);
  if (seed % 2 == 0)
    out.model.natural = hertz(s.mount.natural_hz);
  out.model.limits.watch_velocity = millimetres_per_s(6.3);
  out.model.limits.stop_velocity = millimetres_per_s(40);
  return out;
}

RunUpOf softer_in_one_direction(std::uint64_t seed) {
  RunUpOf out = ordinary(seed);
  Mount& mount = out.spinner.mount;
  mount.other_hz = mount.natural_hz * (1.2 + 0.04 * static_cast<double>(seed % 12));
  mount.other_at_deg = 25.0 + 5.0 * static_cast<double>(seed % 9);
  if (seed % 4 < 2)
    std::swap(mount.other_hz, mount.natural_hz);
  return out;
}

RunUpOf tilting_too(std::uint64_t seed) {
  RunUpOf out = ordinary(seed);
  Mount second = out.spinner.mount;
  second.natural_hz *= 1.6 + 0.05 * static_cast<double>(seed % 10);
  second.moving_kg *= 2.0;
  out.spinner.more.push_back(second);
  return out;
}

/// [math] U/(M R) w^2 over the stiffness less the inertia, along an axis.
std::complex<double> along_axis(const Mount& m, double hz, double w) {
  const double wn = 2.0 * kPi * hz;
  const std::complex<double> stiffness{wn * wn - w * w, 2.0 * m.damping * wn * w};
  return m.unbalance_kg_m / m.moving_kg / m.mark_radius_m * w * w / stiffness;
}

/// |D|: y = sin(a) x' + cos(a) y' of motions along axes that are turned by a.
double lateness_at_top(const RunUpOf& r) {
  const std::complex<double> j(0.0, 1.0);
  const auto of = [&](const Mount& m) {
    const double a = m.other_hz > 0.0 ? m.other_at_deg * kPi / 180.0 : 0.0;
    const auto turned = std::polar(1.0, m.heavy_side_deg * kPi / 180.0 - a);
    const double other = m.other_hz > 0.0 ? m.other_hz : m.natural_hz;
    return turned * (std::sin(a) * along_axis(m, other, r.top_rad_s) -
                     j * std::cos(a) * along_axis(m, m.natural_hz, r.top_rad_s));
  };
  std::complex<double> sum = of(r.spinner.mount);
  for (const Mount& m : r.spinner.more)
    sum += of(m);
  return std::abs(sum);
}

bool shows_second(const Analysis& a) {
  return std::any_of(a.findings.begin(), a.findings.end(),
                     [](const Finding& f) { return f.cause == Cause::second_natural_speed; });
}

void check_bounds(const RunUpOf& r, const Analysis& a) {
  const double late = lateness_at_top(r);
  const double unbalance = r.spinner.mount.unbalance_kg_m;
  CHECK(a.figure.interval.low.rad() < late);
  CHECK(a.figure.interval.high.rad() > late);
  REQUIRE(a.unbalance);
  CHECK(a.unbalance->low.kg_m() < unbalance);
  CHECK(a.unbalance->high.kg_m() > unbalance);
}

} // namespace

TEST_CASE("second mount: softer in one direction, both natural speeds and bounds that hold") {
  for (std::uint64_t seed = 1; seed <= 14; ++seed) {
    const RunUpOf r = softer_in_one_direction(seed);
    const Analysis a = analysed({made(r.spinner, seed), std::nullopt, r.model, {}});
    CAPTURE(seed, r.spinner.marks, r.spinner.mount.natural_hz, r.spinner.mount.other_hz);
    check_bounds(r, a);
    CHECK(shows_second(a));
    REQUIRE(a.run_up);
    REQUIRE(a.run_up->fitting.front().second);
    const double one = a.run_up->mount.natural.Hz();
    const double other = a.run_up->fitting.front().second->natural.Hz();
    CHECK(std::min(one, other) ==
          Approx(std::min(r.spinner.mount.natural_hz, r.spinner.mount.other_hz)).epsilon(0.03));
    CHECK(std::max(one, other) ==
          Approx(std::max(r.spinner.mount.natural_hz, r.spinner.mount.other_hz)).epsilon(0.03));
    CHECK_THAT(a.judgement.reason, Catch::Matchers::ContainsSubstring("does not fit one mount"));
    const double e_omega = r.spinner.mount.unbalance_kg_m / 0.3 * r.top_rad_s * 1e3; // mm/s
    CHECK((a.judgement.verdict != Verdict::even || e_omega < 6.3));
  }
}

TEST_CASE(
    "second mount: a second mode is named, and the bounds hold what either alone would make") {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    const RunUpOf r = tilting_too(seed);
    const Analysis a = analysed({made(r.spinner, seed), std::nullopt, r.model, {}});
    CAPTURE(seed, r.spinner.marks, r.spinner.mount.natural_hz, r.spinner.more[0].natural_hz);
    check_bounds(r, a);
    CHECK(shows_second(a));
  }
}

TEST_CASE("second mount: an ordinary run-up has one, whatever its noise, marks and ramp") {
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    const RunUpOf r = ordinary(seed);
    const Analysis a = analysed({made(r.spinner, seed), std::nullopt, r.model, {}});
    CAPTURE(seed, r.spinner.marks, r.spinner.mount.natural_hz);
    check_bounds(r, a);
    CHECK_FALSE(shows_second(a));
    REQUIRE(a.run_up);
    CHECK_FALSE(a.run_up->left_over);
    CHECK_THAT(a.judgement.reason, !Catch::Matchers::ContainsSubstring("does not fit one mount"));
  }
}

TEST_CASE(
    "second mount: a belt that turns nearly once a turn is named, and is no plate off centre") {
  for (std::uint64_t seed = 1; seed <= 6; ++seed) {
    RunUpOf r = ordinary(seed);
    r.spinner.whirls = false;
    r.spinner.motion = {{0.0}, {240.0 * kRpm}};
    r.spinner.motion.go_to(241, 200, 2).go_to(3000, 276, 3);
    const double order = 0.965 + 0.003 * static_cast<double>(seed);
    PulseTrain train = made(r.spinner, seed);
    for (std::size_t i = 0; i < train.size(); ++i) {
      const double t = static_cast<double>(train.ticks[i]) * r.spinner.tick_s;
      const double angle = 2.0 * kPi * static_cast<double>(i) / r.spinner.marks;
      train.ticks[i] += std::llround(1.5e-3 * std::sin(order * angle) / r.spinner.motion.omega(t) /
                                     r.spinner.tick_s);
    }
    const Analysis a = analysed({train, std::nullopt, r.model, {}});
    CAPTURE(seed, r.spinner.marks, order);
    const auto shows = [&](Cause cause) {
      return std::any_of(a.findings.begin(), a.findings.end(),
                         [&](const Finding& f) { return f.cause == cause; });
    };
    CHECK(shows(Cause::near_once_a_turn));
    CHECK_FALSE(shows(Cause::off_centre));
    CHECK_FALSE(shows(Cause::second_natural_speed));
    CHECK(a.judgement.verdict != Verdict::even);
    CHECK(a.judgement.verdict != Verdict::stop);
  }
}
