#include "whirler/balance/places.hpp"

#include "checks.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace whirler::balance {
namespace {

using Complex = std::complex<double>;
using Masses = std::vector<double>; ///< kg, one a place

/// A hole this near to the wanted direction serves alone: it leaves less than a hundredth.
constexpr Angle kInLine = degrees(0.5);

/// Cross and dot product of plane vectors.
double cross(Complex a, Complex b) { return a.real() * b.imag() - a.imag() * b.real(); }
double dot(Complex a, Complex b) { return a.real() * b.real() + a.imag() * b.imag(); }

/// The least-mass problem: lengths of arm_m times mass sum up to wanted_kg_m, 0 <= mass <= most_kg.
struct Problem {
  std::vector<Complex> arm_m;
  double most_kg = std::numeric_limits<double>::infinity();
  Complex wanted_kg_m;

  /// What a kilogram at a place counts. A hair apart from one another, so that places that serve
  /// equally well are not a tie that the pair search would have to break.
  [[nodiscard]] double cost(std::size_t i) const { return 1.0 + 1e-7 * static_cast<double>(i); }
};

bool is_share(double kg, const Problem& problem) {
  const double slack = 1e-12 * std::abs(problem.wanted_kg_m) / std::abs(problem.arm_m[0]);
  return kg >= -slack && kg <= problem.most_kg + slack;
}

/// Masses with places i and k partly filled: the prices at which both are worth their cost say
/// which others are full. Empty if that is no answer.
Masses with_pair(const Problem& problem, std::size_t i, std::size_t k) {
  const auto& arm = problem.arm_m;
  const double det = cross(arm[i], arm[k]);
  if (std::abs(det) < 1e-12 * std::abs(arm[i]) * std::abs(arm[k]))
    return {};
  const Complex price{(problem.cost(i) * arm[k].imag() - problem.cost(k) * arm[i].imag()) / det,
                      (problem.cost(k) * arm[i].real() - problem.cost(i) * arm[k].real()) / det};
  Masses masses(arm.size(), 0.0);
  Complex rest = problem.wanted_kg_m;
  for (std::size_t n = 0; n < arm.size(); ++n)
    if (n != i && n != k && dot(price, arm[n]) > problem.cost(n)) {
      if (!std::isfinite(problem.most_kg))
        return {};
      masses[n] = problem.most_kg;
      rest -= masses[n] * arm[n];
    }
  masses[i] = cross(rest, arm[k]) / det;
  masses[k] = cross(arm[i], rest) / det;
  if (!is_share(masses[i], problem) || !is_share(masses[k], problem))
    return {};
  masses[i] = std::max(0.0, masses[i]);
  masses[k] = std::max(0.0, masses[k]);
  return masses;
}

Masses solve(const Problem& problem) {
  const std::size_t count = problem.arm_m.size();
  for (std::size_t i = 0; i < count; ++i)
    for (std::size_t k = i + 1; k < count; ++k)
      if (Masses found = with_pair(problem, i, k); !found.empty())
        return found;
  return {};
}

/// A single place, or several in one line with the wanted direction, have no pair that spans. What
/// lies across that line is left.
Masses solve_in_line(const Problem& problem) {
  Masses masses(problem.arm_m.size(), 0.0);
  double rest = std::abs(problem.wanted_kg_m);
  const Complex towards = problem.wanted_kg_m / rest;
  for (std::size_t i = 0; i < masses.size(); ++i) {
    const Complex arm = problem.arm_m[i];
    const double along_m = dot(arm, towards);
    if (std::abs(arg(arm / towards)) > kInLine.rad())
      continue;
    masses[i] = std::min(rest / along_m, problem.most_kg);
    rest -= masses[i] * along_m;
  }
  return rest <= 1e-12 * std::abs(problem.wanted_kg_m) ? masses : Masses{};
}

Masses any_answer(const Problem& problem) {
  Masses found = solve(problem);
  return found.empty() ? solve_in_line(problem) : found;
}

/// The largest part of the wanted unbalance that the places can make, 0 to 1.
double reachable_share(Problem problem) {
  const Complex wanted = problem.wanted_kg_m;
  double reached = 0.0;
  double beyond = 1.0;
  for (int halving = 0; halving < 20; ++halving) {
    const double share = (reached + beyond) / 2.0;
    problem.wanted_kg_m = share * wanted;
    (any_answer(problem).empty() ? beyond : reached) = share;
  }
  return reached;
}

Complex sum_kg_m(const Problem& problem, const Masses& masses) {
  Complex sum = 0.0;
  for (std::size_t i = 0; i < masses.size(); ++i)
    sum += masses[i] * problem.arm_m[i];
  return sum;
}

double rounded_down(double kg, double step_kg) { return std::floor(kg / step_kg + 1e-9) * step_kg; }

double total_kg(const Masses& masses) { return std::accumulate(masses.begin(), masses.end(), 0.0); }

/// Masses in whole steps at one or two places.
struct StepPair {
  std::size_t i = 0;
  std::size_t k = 0;
  double at_i = 0.0; ///< whole numbers of steps
  double at_k = 0.0;
};

/// Of all pairs of places and whole numbers of steps the one that leaves least, and of equals the
/// lightest.
class StepSearch {
 public:
  StepSearch(const Problem& problem, Complex rest_kg_m, double step_kg, double most_in_all_kg)
      : problem_(problem), rest_(rest_kg_m), step_kg_(step_kg),
        most_in_all_(std::floor(most_in_all_kg / step_kg + 1e-9)),
        most_(std::min(most_in_all_, std::floor(problem.most_kg / step_kg + 1e-9))),
        left_(std::abs(rest_)) {}

  StepPair over_pairs(const std::vector<std::size_t>& open) {
    for (std::size_t n = 0; n < open.size(); ++n)
      for (std::size_t m = n; m < open.size(); ++m)
        try_pair(open[n], open[m]);
    return best_;
  }

 private:
  /// Every number of steps at `i` about what the exact answer of the pair has there, and at `k`
  /// the one that then leaves least.
  void try_pair(std::size_t i, std::size_t k) {
    constexpr double kEitherWay = 100.0;
    const Complex arm_i = problem_.arm_m[i] * step_kg_;
    const Complex arm_k = problem_.arm_m[k] * step_kg_;
    const double det = cross(arm_i, arm_k);
    const double exact =
        det != 0.0 ? cross(rest_, arm_k) / det : dot(rest_, arm_i) / std::norm(arm_i);
    const double about = std::clamp(std::round(exact), 0.0, most_);
    const double last = std::min(most_, about + kEitherWay);
    for (double at_i = std::max(0.0, about - kEitherWay); at_i <= last; ++at_i) {
      const double at_k = std::round(dot(rest_ - at_i * arm_i, arm_k) / std::norm(arm_k));
      keep_if_better({i, k, at_i, i == k ? 0.0 : std::clamp(at_k, 0.0, most_)});
    }
  }

  void keep_if_better(const StepPair& tried) {
    const double steps = tried.at_i + tried.at_k;
    const double left = std::abs(rest_ - step_kg_ * (tried.at_i * problem_.arm_m[tried.i] +
                                                     tried.at_k * problem_.arm_m[tried.k]));
    const double hair = 1e-9 * std::abs(problem_.wanted_kg_m);
    if (steps > most_in_all_ || left > left_ + hair ||
        (left > left_ - hair && steps >= best_.at_i + best_.at_k))
      return;
    best_ = tried;
    left_ = left;
  }

  const Problem& problem_;
  Complex rest_;
  double step_kg_;
  double most_in_all_; ///< steps at both places
  double most_;        ///< steps at one
  StepPair best_;
  double left_; ///< kg m
};

double left_kg_m(const Problem& problem, const Masses& masses) {
  return std::abs(problem.wanted_kg_m - sum_kg_m(problem, masses));
}

/// What the exact answer fills, and which places can take the rest in steps.
struct Begun {
  Masses full;
  std::vector<std::size_t> open;
};

Begun begin_steps(const Problem& problem, const Masses& exact) {
  Begun begun{Masses(exact.size(), 0.0), {}};
  for (std::size_t i = 0; i < exact.size(); ++i)
    if (exact[i] >= problem.most_kg * (1.0 - 1e-9))
      begun.full[i] = problem.most_kg;
    else
      begun.open.push_back(i);
  return begun;
}

Masses with_best_pair(const Problem& problem, const Begun& begun, double step_kg,
                      double most_in_all_kg) {
  Masses masses = begun.full;
  const Complex rest = problem.wanted_kg_m - sum_kg_m(problem, masses);
  const double most_kg = std::max(0.0, most_in_all_kg - total_kg(masses));
  const StepPair pair = StepSearch(problem, rest, step_kg, most_kg).over_pairs(begun.open);
  masses[pair.i] += pair.at_i * step_kg;
  masses[pair.k] += pair.at_k * step_kg;
  return masses;
}

/// Each mass a multiple of the step. Places that the exact answer fills stay full; the best pair of
/// the others takes the rest, with at most a step more than the exact answer has in all. Where that
/// leaves much, with more mass, step by step, each time that it halves what is left.
Masses in_steps(Problem problem, Masses exact, double step_kg) {
  constexpr double kMuch = 0.05;     // of what is wanted
  constexpr double kMostTimes = 3.0; // masses that only hold each other up do harm when misplaced
  problem.most_kg = rounded_down(problem.most_kg, step_kg);
  if (Masses in_full_steps = any_answer(problem); !in_full_steps.empty())
    exact = std::move(in_full_steps);
  const Begun begun = begin_steps(problem, exact);
  const double exact_kg = total_kg(exact);
  const double much = kMuch * std::abs(problem.wanted_kg_m);
  Masses best = with_best_pair(problem, begun, step_kg, exact_kg + step_kg);
  for (double most_kg = exact_kg + 2.0 * step_kg;
       most_kg <= kMostTimes * exact_kg && left_kg_m(problem, best) > much; most_kg += step_kg) {
    Masses heavier = with_best_pair(problem, begun, step_kg, most_kg);
    if (left_kg_m(problem, heavier) <= 0.5 * left_kg_m(problem, best))
      best = std::move(heavier);
  }
  return best;
}

Outcome check(std::span<const Place> places, const PlaceLimits& limits) {
  if (places.empty() || places.size() > kMostPlaces)
    return input_fault("there are " + std::to_string(places.size()) + " places for masses",
                       "balance", "give 1 to 128 places");
  for (const Place& place : places)
    if (!(place.at.is_finite() && place.radius.is_finite() && place.radius.mm() > 0.0))
      return input_fault("a place has the radius " + number_text(place.radius.mm(), 6) + " mm",
                         "balance", "give a radius above 0");
  for (const Place& place : places)
    if (place.radius > kFarthest)
      return input_fault("a place has the radius " + number_text(place.radius.mm(), 6) + " mm",
                         "balance", "give at most 10 m");
  for (const auto& mass : {limits.most, limits.step})
    if (mass && !(mass->is_finite() && mass->g() > 0.0))
      return input_fault("a mass for the places is " + number_text(mass->g(), 6) + " g", "balance",
                         "give a mass above 0");
  if (limits.most && limits.step && *limits.most < *limits.step)
    return input_fault("a place takes " + number_text(limits.most->g()) +
                           " g at most, and the masses come in steps of " +
                           number_text(limits.step->g()) + " g",
                       "balance", "give a smaller step, or a larger mass that a place takes");
  return Done{};
}

Fault out_of_reach(const Problem& problem) {
  const double share = reachable_share(problem);
  const double wanted = kilogram_metres(std::abs(problem.wanted_kg_m)).g_mm();
  if (share < 1e-3)
    return input_fault("no two places lie either side of " +
                           number_text(wrapped(radians(std::arg(problem.wanted_kg_m))).deg()) +
                           " deg",
                       "balance", "use more places, round the whole rim");
  return input_fault("the places take " + number_text(share * wanted) + " of " +
                         number_text(wanted) + " g mm in that direction",
                     "balance", "use heavier masses, a larger radius, or shift the plate first");
}

Shares shares_of(const Problem& problem, const Masses& masses, std::span<const Place> places) {
  Shares shares;
  for (std::size_t i = 0; i < masses.size(); ++i)
    if (masses[i] * std::abs(problem.arm_m[i]) > 1e-9 * std::abs(problem.wanted_kg_m))
      shares.masses.push_back({kilograms(masses[i]), wrapped(places[i].at), places[i].radius});
  const Complex left = problem.wanted_kg_m - sum_kg_m(problem, masses);
  const bool rounding = std::abs(left) < 1e-9 * std::abs(problem.wanted_kg_m);
  shares.left = from_kg_m(rounding ? Complex{} : left);
  return shares;
}

} // namespace

std::vector<Place> even_places(int count, Angle first, Length radius) {
  std::vector<Place> places;
  places.reserve(static_cast<std::size_t>(std::max(count, 0)));
  for (int i = 0; i < count; ++i)
    places.push_back({wrapped(first + turns(static_cast<double>(i) / count)), radius});
  return places;
}

Result<Shares> share_out(const PlacedUnbalance& wanted, std::span<const Place> places,
                         const PlaceLimits& limits) {
  if (const auto ok = check(places, limits); !ok)
    return ok.fault();
  if (!wanted.size.is_finite() || !wanted.at.is_finite())
    return input_fault("the correction is not a number", "balance", "check the readings");
  Problem problem;
  problem.wanted_kg_m = to_kg_m(wanted);
  if (problem.wanted_kg_m == Complex{})
    return Shares{};
  for (const Place& place : places)
    problem.arm_m.push_back(std::polar(place.radius.m(), place.at.rad()));
  if (limits.most)
    problem.most_kg = limits.most->kg();
  const Masses exact = any_answer(problem);
  if (exact.empty())
    return out_of_reach(problem);
  return shares_of(problem, limits.step ? in_steps(problem, exact, limits.step->kg()) : exact,
                   places);
}

} // namespace whirler::balance
