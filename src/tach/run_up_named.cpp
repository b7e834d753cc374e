#include "run_up_named.hpp"

#include "run_up_account.hpp"
#include "run_up_search.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kSure = 1e-4;
constexpr double kByPulses = 9.0; ///< chi^2 by the pulses alone
/// Chi^2 of two numbers, with what is expected of them: 3e-7.
constexpr double kBeyondDoubt = 30.0;
constexpr double kSurelyOther = 300.0; ///< chi^2 that no misfit of a right name was seen to leave

Point point_of(const MountEstimate& mount) {
  return {std::log(kTwoPi * mount.natural.Hz()), std::log(mount.damping)};
}

} // namespace

SpinnerModel unnamed(SpinnerModel model) {
  model.natural.reset();
  model.damping.reset();
  return model;
}

bool OtherMount::may_fit() const { return gain > kByPulses; }

bool OtherMount::refutes_name(const RunUp& any, const RunUp& named) const {
  constexpr double kByChance = 0.1;
  constexpr double kTimes = 3.0;
  constexpr double kMatters = 1e-4; // rad
  constexpr double kMattersAlone = 3e-4;
  const double by_any = any.far_above.amplitude().rad();
  const double by_name = named.far_above.amplitude().rad();
  if (!far || any.p_growth > kByChance) // an even plate's turns fit many mounts
    return false;
  return (gain > kSurelyOther && by_any > kMattersAlone) ||
         (gain > kBeyondDoubt && by_any > std::max(kMatters, kTimes * by_name));
}

OtherMount look_for_other(const RunUpProblem& fresh, const RunUp& named,
                          const SpinnerModel& model) {
  const auto by_named = fresh.solve_with(mounts_of(named.fitting.front()));
  Search any = by_name(&fresh, unnamed(model));
  any.variance = by_named.variance();
  any.stiffest = 4.0 * fresh.fastest();
  const Trial found = descend(any, least_of(coarse_trials(any)), 0.2);
  const auto by_found = fresh.solve_with(found.at.mount());
  return {(by_named.border.rss - by_found.border.rss) / by_found.variance(),
          by_name(nullptr, model).strays(found.at)};
}

bool fits_beyond_doubt(const RunUpProblem& fresh, const RunUp& any, const RunUp& named,
                       const SpinnerModel& model) {
  // A fit that keeps to its name and leaves much may have other reasons to: loose plate, belt.
  constexpr double kByPulsesAlone = 100.0;
  constexpr double kOfNamed = 0.5;
  const auto by_any = fresh.solve_with(mounts_of(any.fitting.front()));
  const double left = fresh.solve_with(mounts_of(named.fitting.front())).border.rss;
  const double gain = (left - by_any.border.rss) / by_any.variance();
  const Search search = by_name(&fresh, model);
  const Point best = point_of(named.mount);
  if (search.strays(best))
    return gain > kByPulses && gain + search.penalty(best) > kBeyondDoubt;
  const bool far_better = gain > kByPulsesAlone && by_any.border.rss < kOfNamed * left;
  return (far_better || gain > kSurelyOther) && search.strays(point_of(any.mount));
}

bool overcame_name(const RunUp& named, const SpinnerModel& model) {
  constexpr double kAway = 0.1;     // of the natural speed, in ln
  if (named.fitting.front().second) // either may be the one that is named
    return named.against_named;
  const double away = std::log(named.mount.natural.Hz() / model.natural->Hz());
  return named.mount.found && named.p_growth < kSure && std::abs(away) > kAway;
}

} // namespace whirler::tach
