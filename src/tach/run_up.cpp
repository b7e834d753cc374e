#include "whirler/tach/run_up.hpp"

#include "run_up_account.hpp"
#include "run_up_named.hpp"
#include "run_up_of_turns.hpp"
#include "run_up_problem.hpp"
#include "run_up_search.hpp"
#include "run_up_second.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace whirler::tach {
namespace {

constexpr double kSure = 1e-4;

/// What a bearing that rubs once a turn, or an axis a few degrees out of plumb, does at the slowest
/// speed is small on a machine that runs at all: where the record does not say otherwise it is held
/// to that, if the inertia is known. Common practice, no source: 0.2 mN m, and what of the pattern
/// a speed loop may answer.
bool expect_plumb(RunUpProblem& problem, MountNumbers mount, const SpinnerModel& model,
                  double order_one_scale) {
  constexpr double kRub = 2e-4;        // N m
  constexpr double kAnswered = 0.1;    // of the pattern
  constexpr double kContradicts = 6.0; // chi^2 of two at 95 %
  if (!model.inertia)
    return false;
  const auto s = problem.solve_with(mount);
  if (!s.border.solvable)
    return false;
  const double rub = kRub / (model.inertia->kg_m2() * std::pow(problem.slowest(), 2));
  const double answered =
      kAnswered * std::hypot(s.border.value[0], s.border.value[1]) / order_one_scale;
  const double sd = std::hypot(rub, answered);
  double square = 0.0;
  for (std::size_t i = 0; i < problem.plumb_columns(); ++i) {
    const std::size_t at = problem.plumb_column() + i;
    square +=
        std::pow(s.border.value[at], 2) / (s.border.covariance(at, at) * s.variance() + sd * sd);
  }
  if (square > kContradicts)
    return false;
  problem.expect_plumb(sd);
  return true;
}

/// The longest turn over the shortest.
double speed_range(const TurnSlots& slots, std::size_t marks) {
  std::int64_t longest = 1;
  std::int64_t shortest = std::numeric_limits<std::int64_t>::max();
  for (std::size_t at = 0; at + marks < slots.ticks.size(); at += marks) {
    const std::int64_t turn = slots.ticks[at + marks] - slots.ticks[at];
    longest = std::max(longest, turn);
    shortest = std::min(shortest, std::max<std::int64_t>(turn, 1));
  }
  return static_cast<double>(longest) / static_cast<double>(shortest);
}

bool is_far(double named_wn, Point from) {
  constexpr double kAway = 0.1;
  return std::abs(from.ln_wn - std::log(named_wn)) > kAway;
}

/// Where one mount leaves a natural speed unexplained, both; `one` is what the best single one
/// left.
std::optional<RunUp> two_mounts(RunUpProblem& problem, const Search& search, const Trial& best,
                                const TurnBasis& basis) {
  const auto found = find_second(problem, search, best);
  if (!found)
    return std::nullopt;
  Search any = search.of_any();
  any.variance = problem.solve_with(found->at.mounts()).variance();
  RunUp out = describe(any, {{found->at.one, found->at.other}, found->cost}, problem.solve_with({}),
                       basis.order_one_scale);
  out.misfit = Misfit{found->chance, found->left, 0.0};
  if (search.named_wn)
    out.against_named =
        is_far(*search.named_wn, found->at.one) && is_far(*search.named_wn, found->at.other);
  out.left_over = left_over(problem, found->at.mounts());
  return out;
}

RunUp account_of(RunUpProblem& problem, const Search& search, const Trial& best,
                 const std::vector<Trial>& tried, const TurnBasis& basis) {
  if (auto two = two_mounts(problem, search, best, basis))
    return *two;
  RunUp out = describe(search, {{best.at}, best.cost, tried}, problem.solve_with({}),
                       basis.order_one_scale);
  out.misfit = out.left_over = left_over(problem, best.at.mount());
  return out;
}

RunUpProblem problem_of(const TurnSlots& of, Duration tick, const TurnBasis& basis,
                        const SpinnerModel& model) {
  TurnSlots slots = of; // bad stamps will be mended in it
  return {basis, slots, tick, softest_hz(model)};
}

/// Held to the mount that the model names, where it names one.
std::optional<RunUp> fit_by(RunUpProblem problem, const TurnBasis& basis,
                            const SpinnerModel& model) {
  const auto without = problem.solve_with({});
  if (!without.border.solvable)
    return std::nullopt;
  Search search = by_name(&problem, model);
  search.variance = without.variance();
  search.stiffest = std::max(4.0 * problem.fastest(), search.named_wn.value_or(0.0));
  const auto tried = coarse_trials(search);
  const Trial least = least_of(tried);
  if (least.cost >= 1e299)
    return std::nullopt;
  search.variance = problem.solve_with(least.at.mount()).variance();
  Trial best = descend(search, {least.at, search.cost(least.at)}, 0.3);
  for (int pass = 0; pass < 3 && problem.drop_jolts(best.at.mount()); ++pass) {
  }
  for (int pass = 0; pass < 2; ++pass) {
    problem.weigh_by_speed(best.at.mount());
    search.variance = problem.solve_with(best.at.mount()).variance();
    best = descend(search, {best.at, search.cost(best.at)}, 0.1);
    if (!search.named_wn)
      best = or_stiff(search, best);
  }
  if (expect_plumb(problem, best.at.mount(), model, basis.order_one_scale)) {
    search.variance = problem.solve_with(best.at.mount()).variance();
    best = descend(search, {best.at, search.cost(best.at)}, 0.1);
  }
  return account_of(problem, search, best, tried, basis);
}

/// Held to the name, or free of it where other mounts refute it.
std::optional<RunUp> fit_by_or_against_name(const TurnSlots& of, Duration tick,
                                            const TurnBasis& basis, const RunUpProblem& fresh,
                                            const SpinnerModel& model) {
  auto named = fit_by(fresh, basis, model);
  if (!named || !model.natural)
    return named;
  const OtherMount other = look_for_other(fresh, *named, model);
  if (other.may_fit()) {
    const SpinnerModel free = unnamed(model);
    auto any = fit_by(problem_of(of, tick, basis, free), basis, free);
    if (any && any->p_growth < kSure && fits_beyond_doubt(fresh, *any, *named, model)) {
      any->against_named = true;
      return any;
    }
    if (any && other.refutes_name(*any, *named)) { // but is not sure enough to stand in
      named->against_named = true;
      named->mount.found = false;
    }
  }
  named->against_named = named->against_named || overcame_name(*named, model);
  return named;
}

} // namespace

std::optional<RunUp> fit_run_up(const TurnSlots& of, Duration tick, std::size_t marks,
                                const SpinnerModel& model) {
  constexpr double kOneSpeed = 1.25; // fastest over slowest; less tells nothing apart
  if (marks < 2 || of.turns(marks) < 2 * kLeastTurns || speed_range(of, marks) < kOneSpeed)
    return std::nullopt;
  const TurnBasis basis = run_up_basis(marks);
  const RunUpProblem fresh = problem_of(of, tick, basis, model);
  auto out = fit_by_or_against_name(of, tick, basis, fresh, model);
  if (!out || (!out->misfit && out->p_plumb > kSure))
    return out;
  const SpinnerModel held_to = out->against_named ? unnamed(model) : model;
  if (const auto moved = find_moved(fresh, held_to, *out)) {
    const bool against_named = out->against_named;
    out = describe_moved(fresh, *moved, basis.order_one_scale);
    out->against_named = against_named;
  }
  return out;
}

} // namespace whirler::tach
