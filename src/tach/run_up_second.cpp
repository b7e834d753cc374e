#include "run_up_second.hpp"

#include "simplex.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kOfSquare = 0.1;    ///< a whirl of D rad leaves some D^2 of itself, being no angle
constexpr double kWorthALook = 12.0; ///< chi^2 that one more K gives; noise alone rarely makes 10

Pair pair_of(const std::array<double, 4>& at) { return {{at[0], at[1]}, {at[2], at[3]}}; }

Corner<4> corner_of(const Search& search, const Pair& at) {
  return {{at.one.ln_wn, at.one.ln_z, at.other.ln_wn, at.other.ln_z}, search.cost(at)};
}

/// Above its natural speed a mount looks like uneven marks and an axis out of plumb: one that the
/// record never ran below tells nothing.
double softest_seen(const RunUpProblem& problem) {
  return std::max(kSoftest, 1.2 * problem.slowest());
}

/// Second mounts beside one, from the softest to well beyond the fastest turn.
Corner<4> best_beside(const Search& search, Point one) {
  constexpr double kStep = 0.12;
  constexpr double kBeyond = 1.5;
  const double high = std::log(kBeyond * search.problem->fastest());
  Corner<4> best;
  best.cost = 1e300;
  for (double ln_wn = std::log(softest_seen(*search.problem)); ln_wn < high; ln_wn += kStep) {
    const Corner<4> tried = corner_of(search, {one, {ln_wn, std::log(kUsualDamping)}});
    if (tried.cost < best.cost)
      best = tried;
  }
  return best;
}

Corner<4> descend(const Search& search, const Corner<4>& start, double span) {
  constexpr int kMostSteps = 150;
  return downhill<4>([&](const std::array<double, 4>& at) { return search.cost(pair_of(at)); },
                     start, {0.4 * span, span, 0.4 * span, span}, 0.02 * search.variance,
                     kMostSteps);
}

/// From the best single mount, and from the second that lies best beside it: where the single one
/// was a compromise between two, or far from both.
Corner<4> best_pair(const Search& search, const Corner<4>& beside) {
  const Corner<4> first = descend(search, beside, 0.3);
  const Corner<4> start = best_beside(search, {beside.at[2], beside.at[3]});
  const Corner<4> again = start.cost < 1e299 ? descend(search, start, 0.3) : first;
  return again.cost < first.cost ? again : first;
}

/// The largest whirl that a mount makes within the record, rad.
double largest_whirl(const RunUpProblem& problem, Point at) {
  constexpr int kSpeeds = 40;
  const double far = std::abs(problem.solve_with(at.mount()).far_above[0]);
  double largest = 0.0;
  for (int i = 0; i <= kSpeeds; ++i) {
    const double w =
        problem.slowest() + (problem.fastest() - problem.slowest()) * i / double{kSpeeds};
    largest = std::max(largest, far * std::abs(steady_gain(at.mount(), w)));
  }
  return largest;
}

Pair larger_first(const RunUpProblem& problem, Pair pair) {
  const auto far = problem.solve_with(pair.mounts()).far_above;
  if (std::abs(far[1]) > std::abs(far[0]))
    std::swap(pair.one, pair.other);
  return pair;
}

/// Both searched for together; weights and jolts by them.
std::optional<SecondFound> pair_from(RunUpProblem& problem, Search search, const Corner<4>& beside,
                                     const Trial& alone) {
  constexpr double kBeyondDoubt = 1e-9;
  constexpr double kTried = 30.0; // second mounts
  Corner<4> pair = best_pair(search, beside);
  for (int pass = 0; pass < 2; ++pass) {
    const Mounts mounts = pair_of(pair.at).mounts();
    problem.drop_jolts(mounts);
    problem.weigh_by_speed(mounts);
    search.variance = problem.solve_with(mounts).variance();
    pair = descend(search, corner_of(search, pair_of(pair.at)), 0.1);
  }
  const Pair at = pair_of(pair.at);
  const auto with = problem.solve_with(at.mounts());
  search.variance = with.variance();
  const Trial one = tach::descend(search, {alone.at, search.cost(alone.at)}, 0.3);
  const double gain = (one.cost - search.cost(at)) / search.variance;
  const double chance = kTried * tail_f(gain / 4.0, 4.0, with.freedom);
  const double softer = std::exp(std::min(at.one.ln_wn, at.other.ln_wn));
  if (!(chance < kBeyondDoubt) || softer < softest_seen(problem))
    return std::nullopt;
  return SecondFound{larger_first(problem, at), pair.cost, {}, chance};
}

} // namespace

std::optional<SecondFound> find_second(RunUpProblem& problem, Search search, const Trial& best) {
  search = search.of_any();
  const RunUpProblem before = problem;
  problem.weigh_alike(); // the weights of a wrong fit hide what is wrong with it
  const Trial alone = tach::descend(search, {best.at, search.cost(best.at)}, 0.3);
  const Corner<4> beside = best_beside(search, alone.at);
  std::optional<SecondFound> found;
  if (beside.cost < 1e299) {
    search.variance = problem.solve_with(pair_of(beside.at).mounts()).variance();
    const double left = problem.lack_of_fit(alone.at.mount()).rms;
    const bool more = left > kOfSquare * std::pow(largest_whirl(problem, alone.at), 2);
    if (more && alone.cost - beside.cost > kWorthALook * search.variance)
      found = pair_from(problem, search, beside, alone);
    if (found)
      found->left = radians(left);
    // A pair that leaves most of it is not what there is.
    if (found && problem.lack_of_fit(found->at.mounts()).rms > 0.5 * left)
      found.reset();
  }
  if (!found)
    problem = before;
  return found;
}

std::optional<Misfit> left_over(const RunUpProblem& problem, const Mounts& mounts) {
  constexpr double kBeyondDoubt = 1e-6;
  constexpr double kRatio = 2.5;    // corners of a speed loop that no spline follows leave up to 2
  constexpr double kMatters = 2e-5; // rad
  constexpr double kOfWhirl = 0.02; // every interval allows for more
  const auto left = problem.lack_of_fit(mounts);
  const double whirl = std::abs(problem.solve_with(mounts).far_above[0]);
  if (left.groups < 4.0 || !(left.within > 0.0) || left.rms < std::max(kMatters, kOfWhirl * whirl))
    return std::nullopt;
  const double ratio = left.between / left.within;
  const double chance = tail_f(ratio, left.groups, left.turns);
  if (ratio < kRatio || chance > kBeyondDoubt)
    return std::nullopt;
  return Misfit{chance, radians(left.rms), problem.order_of_rest(mounts)};
}

} // namespace whirler::tach
