#include "whirler/film/radial_story.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace whirler::film::thinning {
namespace {

// Cells: unevenness to a few parts in a thousand. The edge of a screw is a root singularity, which
// needs more.
constexpr std::size_t kCells = 64;
constexpr std::size_t kScrewCells = 320;

PowerFlow power_flow(const Label& label, double radius_m) {
  const PowerLaw& law = *label.power;
  const double floor_Pa = law.kappa_Pa_sn * std::pow(PowerFlow::kRateFloor, law.n);
  const double at_floor_Pa_s = floor_Pa / PowerFlow::kRateFloor;
  return {law.n, 3.0 * label.viscosity_Pa_s * radius_m / floor_Pa, radius_m,
          thinnest_Pa_s(label) / at_floor_Pa_s};
}

std::vector<Piece> then_held(std::span<const Piece> pieces, double until_s, double time_s) {
  auto held = pieces_until(pieces, until_s);
  held.push_back({until_s, until_s + time_s, top_omega(pieces), 0.0});
  return held;
}

/// Straight between steps in u, which grows almost linearly.
double u_between(const std::vector<AcrossPoint>& points, double t) {
  const auto after = std::upper_bound(points.begin(), points.end(), t,
                                      [](double x, const AcrossPoint& p) { return x < p.t; });
  const auto u = [](const AcrossPoint& p) { return 1.0 / (p.dry_mean_m * p.dry_mean_m); };
  if (after == points.begin())
    return u(points.front());
  if (after == points.end())
    return u(points.back());
  const AcrossPoint& a = *(after - 1);
  return u(a) + (t - a.t) / (after->t - a.t) * (u(*after) - u(a));
}

} // namespace

FilmPoint mean_at(const std::vector<AcrossPoint>& points, double t) {
  const auto after = std::upper_bound(points.begin(), points.end(), t,
                                      [](double x, const AcrossPoint& p) { return x < p.t; });
  const AcrossPoint& b = after == points.end() ? points.back() : *after;
  const AcrossPoint& a = after == points.begin() ? points.front() : *(after - 1);
  const double x = b.t > a.t ? std::clamp((t - a.t) / (b.t - a.t), 0.0, 1.0) : 0.0;
  const auto between = [x](double from, double to) { return from + x * (to - from); };
  return {t, 1.0 / std::sqrt(u_between(points, t)), between(a.wet_mean_m, b.wet_mean_m),
          between(a.T_K, b.T_K)};
}

namespace {

/// The four runs of a power-law liquid's story.
class PowerStory {
 public:
  PowerStory(const Label& label, std::span<const Piece> pieces, const Uneven& uneven,
             double accuracy)
      : label_(label), pieces_(pieces), uneven_(uneven), accuracy_(accuracy) {
    uneven_.puddle_share = 1.0;
    uneven_.screw_m = 0.0;
  }

  std::optional<ColumnStory> tell() {
    story_.top_from_s = first_time_near_top(pieces_);
    story_.top_until_s = last_time_near_top(pieces_, kNearTop);
    const auto actual = run({pieces_.begin(), pieces_.end()});
    if (!actual || !judge_set() || !look_ahead(*actual))
      return std::nullopt;
    const auto straight = run(pieces_from(pieces_, story_.top_from_s));
    if (!straight)
      return std::nullopt;
    story_.straight_dry_m = straight->points.back().dry_mean_m;
    for (const double t : sample_times(pieces_))
      story_.points.push_back(mean_at(actual->points, t));
    story_.end = mean_at(actual->points, pieces_.back().end_s);
    story_.coldest_K = story_.end.T_K;
    for (const AcrossPoint& p : actual->points)
      story_.coldest_K = std::min(story_.coldest_K, p.T_K);
    return story_;
  }

 private:
  [[nodiscard]] std::optional<RadialStory> run(const std::vector<Piece>& pieces) const {
    return radial_story(label_, pieces, uneven_, accuracy_);
  }

  bool judge_set() {
    const double until = story_.top_until_s;
    for (const double longer : {0.0, kLongestDwell_s}) {
      if (longer > 0.0 && label_.count == 0)
        break;
      const auto held = run(then_held(pieces_, until, longer + kSetWindow_s));
      if (!held)
        return false;
      std::vector<double> times;
      for (const AcrossPoint& p : held->points)
        times.push_back(p.t);
      const auto set =
          set_within(until + longer, times, [&](double t) { return u_between(held->points, t); });
      if (!set)
        continue;
      story_.needed_dwell_s = std::max(0.0, *set - story_.top_from_s);
      if (*set <= until)
        story_.set_s = set;
      break;
    }
    return true;
  }

  /// A minute more at top speed, from the curve's end.
  bool look_ahead(const RadialStory& actual) {
    const auto more = run(then_held(pieces_, pieces_.back().end_s, kSetWindow_s));
    if (!more)
      return false;
    story_.flow_left = 1.0 - more->points.back().dry_mean_m / actual.points.back().dry_mean_m;
    if (!story_.set_s && story_.flow_left < kSetLoss)
      story_.set_s = pieces_.back().end_s; // by then: a slower step after the top dried it
    story_.is_set = story_.set_s.has_value();
    return true;
  }

  const Label& label_;
  std::span<const Piece> pieces_;
  Uneven uneven_;
  double accuracy_;
  ColumnStory story_;
};

} // namespace

std::optional<RadialStory> radial_story(const Label& label, std::span<const Piece> pieces,
                                        const Uneven& uneven, double accuracy) {
  const RadialGrid grid =
      radial_grid(uneven.screw_m > 0.0 ? kScrewCells : kCells, uneven.radius_m, uneven.screw_m);
  RadialStart start{domed(grid, uneven.pour_m, uneven.dome), uneven.puddle_share};
  if (label.power && start.puddle_share < 1.0) {
    // A power-law puddle has no frame of its own: its volume starts as a film over the plate.
    for (double& wet_m : start.wet_m)
      wet_m *= start.puddle_share * start.puddle_share;
    start.puddle_share = 1.0;
  }
  const double air_m2_s =
      uneven.knows_radius ? air_kinematic_viscosity(label.air.temperature).m2_per_s() : 0.0;
  return with_closures(label, [&](const auto& closures) {
    using Closures = std::decay_t<decltype(closures)>;
    if (label.power)
      return RadialRun<Closures, PowerFlow>(closures, grid, power_flow(label, uneven.radius_m),
                                            air_m2_s, accuracy)
          .run(pieces, start);
    return RadialRun<Closures>(closures, grid, {}, air_m2_s, accuracy).run(pieces, start);
  });
}

std::optional<ColumnStory> power_story(const Label& label, std::span<const Piece> pieces,
                                       const Uneven& uneven, double accuracy) {
  return PowerStory(label, pieces, uneven, accuracy).tell();
}

TurbulentRadius turbulent_radius(const Label& label, double omega) {
  const double nu = air_kinematic_viscosity(label.air.temperature).m2_per_s();
  return {std::sqrt(1.9e5 * nu / omega), std::sqrt(3e5 * nu / omega)};
}

} // namespace whirler::film::thinning
