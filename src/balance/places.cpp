#include "whirler/balance/places.hpp"

#include "checks.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace whirler::balance {
namespace {

using Complex = std::complex<double>;
using Masses = std::vector<double>; ///< kg, one a place

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

/// A single place, or several in one line with the wanted direction, have no pair that spans.
Masses solve_in_line(const Problem& problem) {
  Masses masses(problem.arm_m.size(), 0.0);
  double rest = std::abs(problem.wanted_kg_m);
  const Complex towards = problem.wanted_kg_m / rest;
  for (std::size_t i = 0; i < masses.size(); ++i) {
    const Complex arm = problem.arm_m[i];
    if (std::abs(arg(arm / towards)) > 1e-9)
      continue;
    masses[i] = std::min(rest / std::abs(arm), problem.most_kg);
    rest -= masses[i] * std::abs(arm);
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

/// Each mass a multiple of the step: full places rounded down, the partly filled ones (two at
/// most) down or up, whichever leaves least.
Masses in_steps(const Problem& problem, const Masses& exact, double step_kg) {
  const double most = rounded_down(problem.most_kg, step_kg);
  Masses down;
  std::vector<std::size_t> between;
  for (std::size_t i = 0; i < exact.size(); ++i) {
    down.push_back(rounded_down(exact[i], step_kg));
    if (exact[i] - down[i] > 1e-9 * step_kg && down[i] + step_kg <= most * (1.0 + 1e-9))
      between.push_back(i);
  }
  Masses best = down;
  for (std::size_t choice = 0;
       choice < (std::size_t{1} << std::min<std::size_t>(2, between.size())); ++choice) {
    Masses tried = down;
    for (std::size_t bit = 0; bit < std::min<std::size_t>(2, between.size()); ++bit)
      if ((choice >> bit & 1U) != 0U)
        tried[between[bit]] += step_kg;
    if (std::abs(problem.wanted_kg_m - sum_kg_m(problem, tried)) <
        std::abs(problem.wanted_kg_m - sum_kg_m(problem, best)))
      best = tried;
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
