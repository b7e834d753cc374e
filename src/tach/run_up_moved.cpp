#include "run_up_moved.hpp"

#include "run_up_account.hpp"
#include "simplex.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::tach {
namespace {

using Place = RunUpProblem::PlaceInRamp;

double left_by(const RunUpProblem& problem, const Mounts& mounts) {
  const auto solution = problem.solve_with(mounts);
  return solution.border.solvable ? solution.border.rss : 1e300;
}

/// The place that leaves least, on this mount.
Place best_place(const RunUpProblem& problem, MountNumbers mount,
                 const std::vector<Place>& places) {
  Place best = places.front();
  double least = 1e300;
  for (const Place& place : places)
    if (const double left = left_by(problem, Mounts::moved_plate(mount, place.turn));
        left < least) {
      least = left;
      best = place;
    }
  return best;
}

std::vector<Place> every_so_many(const std::vector<Place>& all, std::size_t every) {
  std::vector<Place> out;
  for (std::size_t i = 0; i < all.size(); i += every)
    out.push_back(all[i]);
  return out;
}

std::vector<Place> near(const std::vector<Place>& all, std::size_t turn, std::size_t reach) {
  std::vector<Place> out;
  for (const Place& place : all)
    if (place.turn + reach >= turn && place.turn <= turn + reach)
      out.push_back(place);
  return out;
}

/// The best mount of a plate that holds, from either of the pair that was found, or the named one.
Trial best_alone(const Search& search, const Mounts& found) {
  std::vector<Point> starts;
  for (std::size_t m = 0; m < found.count; ++m)
    starts.push_back({std::log(found.of[m].wn), std::log(found.of[m].z)});
  if (search.named_wn)
    starts.push_back(
        {std::log(*search.named_wn), std::log(search.named_z.value_or(kUsualDamping))});
  std::vector<Trial> ends;
  for (const Point& start : starts)
    ends.push_back(descend(search, {start, search.cost(start)}, 0.3));
  return least_of(ends);
}

Point best_mount(const Search& search, Point from, std::size_t turn) {
  constexpr int kMostSteps = 40;
  constexpr double kSpan = 0.1;
  const auto cost = [&](const std::array<double, 2>& at) {
    const Point point{at[0], at[1]};
    return search.allowed(point)
               ? left_by(*search.problem, Mounts::moved_plate(point.mount(), turn)) +
                     search.variance * search.penalty(point)
               : 1e300;
  };
  const std::array<double, 2> start{from.ln_wn, from.ln_z};
  const auto best = downhill<2>(cost, {start, cost(start)}, {0.4 * kSpan, kSpan},
                                0.02 * search.variance, kMostSteps);
  return {best.at[0], best.at[1]};
}

/// Whether it moved by more than anybody minds, and than what a mount may leave of itself: in its
/// natural speed a large whirl is no small angle, and before it is reached a K may be any.
bool is_other_k(const RunUpProblem::Solution& s, bool in_natural_speed) {
  constexpr double kLeast = 1e-4; // rad
  constexpr double kOfWhole = 0.25;
  constexpr double kOfWholeThere = 0.7;
  constexpr double kMostTimes = 8.0;
  const double one = std::abs(s.far_above[0]);
  const double other = std::abs(s.far_above[1]);
  const double change = std::abs(s.far_above[1] - s.far_above[0]);
  return change > std::max(kLeast,
                           (in_natural_speed ? kOfWholeThere : kOfWhole) * std::max(one, other)) &&
         one < kMostTimes * other;
}

} // namespace

std::optional<MovedFound> find_moved(const RunUpProblem& problem, const SpinnerModel& model,
                                     const RunUp& holds) {
  constexpr std::size_t kMostPlaces = 60;
  constexpr double kByChance = 1e-9;
  constexpr double kOfLeft = 0.5; // one that leaves more of it is not what there is
  const Mounts rival = mounts_of(holds.fitting.front());
  Search search = by_name(&problem, model);
  search.variance = problem.solve_with(rival).variance();
  search.stiffest = std::max(4.0 * problem.fastest(), search.named_wn.value_or(0.0));
  const Trial alone = best_alone(search, rival);
  auto all = problem.places_in_ramps();
  // Where nothing whirls yet a K may be any, and stands for what else is slow: rub, plumb, cogging.
  constexpr double kSeen = 0.45; // of the natural speed: a quarter of the whirl far above
  std::erase_if(all, [&](const Place& p) { return p.speed < kSeen * alone.at.mount().wn; });
  if (all.empty())
    return std::nullopt;
  const std::size_t every = 1 + all.size() / kMostPlaces;
  Place place = best_place(problem, alone.at.mount(), every_so_many(all, every));
  Point mount = alone.at;
  for (int pass = 0; pass < 2; ++pass) {
    search.variance = problem.solve_with(Mounts::moved_plate(mount.mount(), place.turn)).variance();
    mount = best_mount(search, mount, place.turn);
    place = best_place(problem, mount.mount(), near(all, place.turn, pass == 0 ? every : 2));
  }
  const Mounts moved = Mounts::moved_plate(mount.mount(), place.turn);
  const auto with = problem.solve_with(moved);
  constexpr double kWithin = 0.15; // of the natural speed
  const bool in_natural_speed = std::abs(place.speed / mount.mount().wn - 1.0) < kWithin;
  if (!with.border.solvable || !is_other_k(with, in_natural_speed))
    return std::nullopt;
  const double gain = (left_by(problem, alone.at.mount()) - with.border.rss) / with.variance();
  const double chance = static_cast<double>(all.size()) * tail_f(gain / 3.0, 3.0, with.freedom);
  const double left = problem.lack_of_fit(alone.at.mount()).rms;
  if (chance > kByChance || with.border.rss > left_by(problem, rival) ||
      problem.lack_of_fit(moved).rms > kOfLeft * left)
    return std::nullopt;
  return MovedFound{mount, place.turn, place.speed, radians(left), chance};
}

} // namespace whirler::tach
