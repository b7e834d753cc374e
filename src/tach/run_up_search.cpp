#include "run_up_search.hpp"

#include "simplex.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kNamedWithin = 0.05;  ///< spread of a natural speed that the machine file names
constexpr double kDampingWithin = 0.5; ///< of its damping, in ln
constexpr double kUsualWithin = 0.85;

double plumb_of(const RunUpProblem& problem, Point at) {
  const auto s = problem.solve_with(at.mount());
  double square = 0.0;
  for (std::size_t i = 0; i < problem.plumb_columns(); ++i)
    square += std::pow(s.border.value[problem.plumb_column() + i], 2);
  return square;
}

} // namespace

bool Search::strays(Point at) const {
  constexpr double kAway = 0.08;
  constexpr double kDampingAway = 1.0;
  return (named_wn && std::abs(at.ln_wn - std::log(*named_wn)) > kAway) ||
         (named_z && std::abs(at.ln_z - std::log(*named_z)) > kDampingAway);
}

double Search::penalty(Point at) const {
  const double z = (at.ln_z - std::log(named_z.value_or(kUsualDamping))) /
                   (named_z ? kDampingWithin : kUsualWithin);
  double sum = z * z;
  if (named_wn)
    sum += std::pow((at.ln_wn - std::log(*named_wn)) / kNamedWithin, 2);
  return sum;
}

bool Search::allowed(Point at) const {
  const MountNumbers m = at.mount();
  return m.z >= kLeastDamping && m.z <= kMostDamping && m.wn >= softest() && m.wn <= 1.5 * stiffest;
}

double softest_hz(const SpinnerModel& model) {
  const double usual = kSoftest / (2.0 * std::numbers::pi);
  return model.natural ? std::min(usual, model.natural->Hz()) : usual;
}

double Search::softest() const { return 0.85 * std::min(kSoftest, named_wn.value_or(kSoftest)); }

bool Search::at_the_edge(Point at) const { return at.mount().wn < 1.01 * softest(); }

double Search::cost(Point at) const {
  if (!allowed(at))
    return 1e300;
  const auto solution = problem->solve_with(at.mount());
  return solution.border.solvable ? solution.border.rss + variance * penalty(at) : 1e300;
}

double Search::cost(const Pair& at) const {
  constexpr double kApart = 0.03; // of the speed: closer, two are one with a damping of its own
  if (!allowed(at.one) || !allowed(at.other) || std::abs(at.one.ln_wn - at.other.ln_wn) < kApart)
    return 1e300;
  const auto solution = problem->solve_with(at.mounts());
  return solution.border.solvable
             ? solution.border.rss + variance * (penalty(at.one) + penalty(at.other))
             : 1e300;
}

Search by_name(const RunUpProblem* problem, const SpinnerModel& model) {
  Search out{problem, std::nullopt, std::nullopt};
  if (model.natural)
    out.named_wn = 2.0 * std::numbers::pi * model.natural->Hz();
  if (model.natural && model.damping && *model.damping > 0.0)
    out.named_z = std::clamp(*model.damping, 2.0 * kLeastDamping, 0.5 * kMostDamping);
  return out;
}

Search Search::of_any() const {
  Search any = *this;
  any.named_wn.reset();
  any.named_z.reset();
  return any;
}

std::vector<Trial> coarse_trials(const Search& search) {
  std::vector<Trial> out;
  const double low = std::log(search.named_wn ? 0.88 * *search.named_wn : kSoftest);
  const double high = std::log(search.named_wn ? 1.13 * *search.named_wn : search.stiffest);
  const int steps = search.named_wn ? 5 : std::max(4, static_cast<int>((high - low) / 0.2));
  for (int i = 0; i <= steps; ++i)
    for (const double z : {0.03, 0.15}) {
      const double here = search.named_z.value_or(z);
      const Point at{low + (high - low) * i / steps, std::log(here)};
      out.push_back({at, search.cost(at)});
      if (search.named_z)
        break;
    }
  return out;
}

Trial least_of(const std::vector<Trial>& tried) {
  return *std::min_element(tried.begin(), tried.end(),
                           [](const Trial& a, const Trial& b) { return a.cost < b.cost; });
}

Trial descend(const Search& search, Trial start, double span) {
  constexpr int kMostSteps = 60;
  const auto cost = [&](const std::array<double, 2>& at) {
    return search.cost(Point{at[0], at[1]});
  };
  const auto best = downhill<2>(cost, {{start.at.ln_wn, start.at.ln_z}, start.cost},
                                {0.4 * span, span}, 0.02 * search.variance, kMostSteps);
  return {{best.at[0], best.at[1]}, best.cost};
}

Trial or_stiff(const Search& search, const Trial& best) {
  const Point at{std::log(0.7 * search.stiffest), std::log(search.named_z.value_or(kUsualDamping))};
  const Trial stiff = descend(search, {at, search.cost(at)}, 0.3);
  const double gain = best.cost - stiff.cost;
  if (std::abs(gain) > kFitsToo * search.variance)
    return gain > 0.0 ? stiff : best;
  return plumb_of(*search.problem, stiff.at) < plumb_of(*search.problem, best.at) ? stiff : best;
}

} // namespace whirler::tach
