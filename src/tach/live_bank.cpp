#include "live_bank.hpp"

#include "live_turns.hpp"
#include "statistics.hpp"
#include "step_lengths.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr std::size_t kRows = kLiveRows; ///< no more: cogging changes the others with speed
constexpr std::size_t kOrders = 1;
constexpr double kSpeedUnit = 100.0;     ///< rad/s
constexpr double kFitsToo = 30.0;        ///< chi^2 over the best within which a mount is kept
constexpr double kLikely = 6.0;          ///< and within which it holds the truth in 95 of 100
constexpr std::size_t kFewEnough = 16;   ///< mounts that fit, to be looked at more closely
constexpr double kHopeless = 2000.0;     ///< chi^2 over the best beyond which a mount is dropped
constexpr double kSurelyHopeless = 40.0; ///< degrees of freedom for that
constexpr double kGrows = 1e-9;          ///< chance that noise alone looks so much like unbalance
constexpr double kHints = 1e-3;          ///< and that it may be
constexpr double kOneSpeed = 1.15; ///< fastest over slowest; less is one speed, and shows no growth
constexpr double kFewestFree = 10.0; ///< degrees of freedom
/// Rad; a disc of 15 mm radius that is 0.75 mm off its centre. A mount that needs more of the marks
/// to explain what is seen has a large whirl hide behind as large a pattern, and proves nothing.
constexpr double kMostPattern = 0.05;
constexpr std::size_t kFewestTurns = 8;
/// The first turns from rest: friction, cogging and a loop that has not yet seen a whole turn move
/// them more than marks and plate do.
constexpr std::size_t kStartTurns = 6;
constexpr double kStartSpeed = 35.0; ///< rad/s
constexpr std::size_t kBlockTurns = 16;
constexpr double kBlockTime = 0.5;     ///< s
constexpr std::size_t kWeighEvery = 4; ///< turns
constexpr double kWeighTime = 0.1;     ///< s; weighing costs as much as some turns
constexpr double kPulse = 2e-4;        ///< rad, of one pulse; the fit's own is not known yet
constexpr double kShare = 0.15;        ///< of a corner, that the spline makes once per turn
constexpr double kHandedOn = 0.4;      ///< of that, to the next turn
/// rad; beyond, a turn is left out. A recording leaves out more (kCorner) and has turns to spare. A
/// loop that misses marks surges for good, and to leave out most turns picks those of one phase of
/// the surge, which looks like a plate: weighed down they are worth more, and honest.
constexpr double kWildCorner = 0.2;
constexpr double kSways = kTwoPi * 6.9; ///< rad/s: 5 mm of sag; see run_up_search.cpp
constexpr double kBaselineSd = 2e-5;    ///< rad: what a baseline is good for from run to run

} // namespace

LiveBank::LiveBank(const SpinnerModel& model, std::optional<OnceVector> baseline)
    : model_(model), baseline_(baseline),
      basis_(static_cast<std::size_t>(std::max(model.marks_per_turn, 2)), kRows, kOrders),
      transform_(basis_, Steps::coarse) {
  start_over();
}

void LiveBank::start_over() {
  mounts_.emplace(model_, transform_);
  shared_.emplace(basis_, plumbs());
  expect_plumb(*shared_);
  baseline_laid_ = false;
  recent_.emplace(basis_, 0);
  recent_turns_ = 0;
  recent_time_ = 0.0;
  block_.reset();
  begun_ = false;
  turns_ = 0;
  slowest_used_ = 1e300;
  fastest_used_ = 0.0;
  weighed_ = false;
  weighed_at_ = 0;
}

void LiveBank::add_baseline(Elimination& fit) const {
  // The fit's own noise is not known yet: a pulse's usual 0.1 mrad stands in for the weight.
  constexpr double kWeight = 1e-4 / kBaselineSd;
  for (std::size_t part = 0; part < plumbs(); ++part) {
    std::vector<double> row(fit.border_size(), 0.0);
    row[part] = kWeight / basis_.order_one_scale;
    const Angle value = part == 0 ? baseline_->re : baseline_->im;
    fit.add_border(row, kWeight * value.rad());
  }
}

/// As in a recording's fit (run_up.cpp): what falls with speed squared is no more than a bearing's
/// rub and what a loop answers of hand-made marks. Without it a run of two speeds and a steep ramp
/// between them tells an unbalance from nothing.
void LiveBank::expect_plumb(Elimination& fit) const {
  constexpr double kRub = 2e-4;      // N m
  constexpr double kAnswered = 8e-4; // rad at kPlumbAt: a tenth of 8 mrad
  if (!model_.inertia)
    return;
  const double rub = kRub / (model_.inertia->kg_m2() * kPlumbAt * kPlumbAt);
  const double weight = kPulse / std::hypot(rub, kAnswered);
  for (std::size_t part = 0; part < plumbs(); ++part) {
    std::vector<double> row(fit.border_size(), 0.0);
    row[basis_.rows - 1 + part] = weight;
    fit.add_border(row, 0.0);
  }
}

void LiveBank::broken(bool mark_lost) {
  if (mark_lost)
    return start_over();
  for (std::size_t i = 0; i < kSplineWidth; ++i) { // no spline coefficient spans the break
    MountTurn hole;
    hole.hole = true;
    shared_->skip_turn();
    note_pivot(hole.shared);
    mounts_->turn(hole);
    recent_->skip_turn();
  }
  begun_ = false;
}

/// As in a recording's ramps, by the mean of the marks; corners are left out altogether.
MountTurn LiveBank::as_met(const TurnRows& rows, std::size_t at) const {
  MountTurn out;
  const std::size_t steps = transform_.steps();
  const auto mean = [&](std::size_t i) {
    return rows.turn(i)[0] / std::sqrt(static_cast<double>(basis_.marks)) / rows.speed[i];
  };
  const double at_begin = 0.5 * (mean(at > 0 ? at - 1 : 0) + mean(at));
  const double at_end = 0.5 * (mean(at) + mean(at + 1));
  double before = rows.knots[at] + at_begin;
  for (std::size_t s = 0; s < steps; ++s) {
    const double u = static_cast<double>(s + 1) / static_cast<double>(steps);
    const double now = moment_of(rows, at, u).time + at_begin * (1.0 - u) + at_end * u;
    out.step_s[s] = now - before;
    before = now;
    out.late[s] = transform_.late(s, rows.turn(at));
  }
  keep_between_neighbours(rows, at, std::span(out.step_s).first(steps));
  out.speed = rows.speed[at];
  out.slope = rows.slope[at];
  return out;
}

/// The first two of five turns, which are never the middle ones.
void LiveBank::live_ahead(const TurnRows& rows) {
  for (std::size_t i = 0; i < LiveTurns::kMiddle; ++i) {
    MountTurn met = as_met(rows, i);
    met.ahead = true;
    met.begin = i == 0;
    mounts_->turn(met);
  }
}

void LiveBank::note_pivot(SharedTurn& turn) const {
  std::copy(shared_->last_pivot().begin(), shared_->last_pivot().end(), turn.pivot.begin());
  turn.by_pivot = 1.0 / turn.pivot[0];
}

/// The same rows go into the shared fit and, as they are, to each mount's columns.
void LiveBank::add_to_shared(const TurnRows& rows, MountTurn& met) {
  const auto values = rows.turn(LiveTurns::kMiddle);
  const double plumb = basis_.order_one_scale * std::pow(kPlumbAt / speed_, 2);
  const double weight = met.shared.weight;
  std::array<double, kMostExtra * kRows> extra{};
  for (std::size_t p = 0; p < plumbs(); ++p)
    extra[p * basis_.rows + p + 1] = plumb;
  for (std::size_t r = 0; r < basis_.rows; ++r) {
    SharedRow& row = met.shared.design[r];
    for (std::size_t q = 0; q < kSplineWidth; ++q)
      row[q] = weight * speed_ / kSpeedUnit *
               (basis_.spline_rows[r][q] + slope_ * basis_.spline_slope_rows[r][q]);
    if (r > 0)
      row[kSplineWidth + r - 1] = weight;
    for (std::size_t p = 0; p < plumbs(); ++p)
      row[kSplineWidth + basis_.rows - 1 + p] = weight * extra[p * basis_.rows + r];
    row[shared_->used() - 1] = weight * values[r];
  }
  shared_->add_turn(values, speed_ / kSpeedUnit, slope_, extra, weight);
}

/// Mean time of the marks of each of five turns. The whirl is once per turn and not in it: a mount
/// that is passed bends the times of any one mark as much as a corner of the speed does.
std::array<double, LiveTurns::kTurns> LiveBank::mean_times(const TurnSlots& around,
                                                           Duration tick) const {
  std::array<double, LiveTurns::kTurns> out{};
  for (std::size_t i = 0; i < out.size(); ++i) {
    for (std::size_t k = 0; k < basis_.marks; ++k)
      out[i] += static_cast<double>(around.ticks[i * basis_.marks + k] - around.ticks[0]);
    out[i] *= tick.s() / static_cast<double>(basis_.marks);
  }
  return out;
}

/// How much of a corner the speed has near the middle of five turns, rad: bends to one side, where
/// a mount that rings after it was passed bends to and fro, that change, where a ramp that eases
/// off bends evenly.
double LiveBank::corner_at(double bend, double next_bend) {
  const double change = std::abs(next_bend - bend);
  const double corner = std::min(std::abs(bend + next_bend), std::max(change, change_));
  change_ = change;
  return corner;
}

/// A corner that is too small to be left out is still more than the spline follows, and what it
/// makes of it is once per turn: as in a recording (run_up_weights.cpp).
double LiveBank::weight_for(double corner) {
  const double unruly = kShare * std::max(corner, kHandedOn * corner_);
  corner_ = corner;
  return 1.0 / std::hypot(1.0, unruly / kPulse);
}

void LiveBank::turn(const TurnSlots& around, Duration tick, bool bad, bool numbered) {
  constexpr std::size_t kMiddle = LiveTurns::kMiddle;
  if (turns_ == 0 && numbered && baseline_) {
    add_baseline(*shared_);
    baseline_laid_ = true;
  }
  const TurnRows rows = turn_rows(basis_, around, tick, 0, LiveTurns::kTurns, Course::ramp);
  speed_ = rows.speed[kMiddle];
  slope_ = rows.slope[kMiddle];
  slowest_ = turns_ == 0 ? speed_ : std::min(slowest_, speed_);
  ++turns_;
  since_weighed_ += kTwoPi / speed_;
  const bool from_rest = turns_ <= kStartTurns && speed_ < kStartSpeed;
  if (!begun_)
    live_ahead(rows);
  begun_ = true;
  MountTurn met = as_met(rows, kMiddle);
  met.leave_out = bad || from_rest || std::abs(slope_) > kTooFast;
  const auto means = mean_times(around, tick);
  const double corner = corner_at(bend_at(means, 0), bend_at(means, 1));
  met.leave_out = met.leave_out || corner > kWildCorner;
  met.shared.weight = weight_for(corner);
  if (met.leave_out) {
    shared_->skip_turn();
    recent_->skip_turn();
  } else {
    slowest_used_ = std::min(slowest_used_, speed_);
    fastest_used_ = std::max(fastest_used_, speed_);
    add_to_shared(rows, met);
    add_to_block(rows, met.shared.weight);
  }
  note_pivot(met.shared);
  mounts_->turn(met);
  if (turns_ >= weighed_at_ + kWeighEvery && since_weighed_ > kWeighTime)
    look_closer();
}

/// Weighs the mounts; once they show unbalance, makes their net finer about those that still fit.
void LiveBank::look_closer() {
  weigh();
  if (!grows_ || accounts_.size() > kFewEnough)
    return;
  std::vector<std::size_t> about;
  for (const Account& a : accounts_)
    about.push_back(a.at);
  std::sort(about.begin(), about.end());
  if (mounts_->refine(about))
    weigh();
  if (accounts_.front().freedom < kSurelyHopeless || hopeless_.empty())
    return;
  mounts_->drop(hopeless_);
  weigh();
}

void LiveBank::add_to_block(const TurnRows& rows, double weight) {
  recent_->add_turn(rows.turn(LiveTurns::kMiddle), speed_ / kSpeedUnit, slope_, {}, weight);
  ++recent_turns_;
  recent_time_ += kTwoPi / speed_;
  if (recent_turns_ < kBlockTurns || recent_time_ < kBlockTime)
    return;
  const BorderNormal normal = recent_->border();
  const BorderSolution s = solve(normal);
  const double freedom = std::max(1.0, normal.observations - static_cast<double>(normal.size));
  if (s.solvable) {
    const double scale = 1.0 / basis_.order_one_scale;
    const bool both = basis_.marks > 2;
    block_ = Block{{s.value[0] * scale, both ? s.value[1] * scale : 0.0},
                   std::sqrt(s.covariance(0, 0) * s.rss / freedom) * scale,
                   kTwoPi * static_cast<double>(recent_turns_) / recent_time_};
  }
  recent_.emplace(basis_, 0);
  recent_turns_ = 0;
  recent_time_ = 0.0;
}

LiveBank::Account LiveBank::account_of(const LiveMounts::Mount& mount,
                                       const SharedFit& shared) const {
  const WhirlSolution s = mount.whirl.solve(shared);
  Account out;
  out.mount = mount.numbers;
  out.speed_step = mount.speed_step;
  out.damping_step = mount.damping_step;
  out.swing = mount.swing;
  out.price = mount.price;
  out.proves = baseline_laid_ || model_.inertia.has_value() || mount.numbers.wn > 1.05 * slowest_;
  out.rss = s.solvable ? s.rss : 1e300;
  if (!s.solvable)
    return out;
  out.freedom = std::max(1.0, shared.observations - static_cast<double>(shared.without.size + 2));
  out.variance = s.rss / out.freedom;
  const bool both = basis_.marks > 2;
  const double scale = 1.0 / basis_.order_one_scale;
  const std::size_t plumb = basis_.rows - 1;
  out.far_above = s.far_above;
  out.far_sd = std::sqrt(s.far_variance * out.variance);
  out.pattern = {s.border[0] * scale, both ? s.border[1] * scale : 0.0};
  out.pattern_sd =
      std::sqrt(std::max(s.variance[0], s.variance[both ? 1 : 0]) * out.variance) * scale;
  out.proves = out.proves && std::abs(out.pattern) - 3.0 * out.pattern_sd < kMostPattern;
  out.plumb = {s.border[plumb], both ? s.border[plumb + 1] : 0.0};
  return out;
}

void LiveBank::weigh() const {
  weighed_ = true;
  weighed_at_ = turns_;
  since_weighed_ = 0.0;
  accounts_.clear();
  plausible_.clear();
  hopeless_.clear();
  grows_ = soft_too_ = false;
  if (turns_ < kFewestTurns)
    return;
  const SharedFit shared = shared_fit(*shared_);
  for (const LiveMounts::Mount& mount : mounts_->all()) {
    accounts_.push_back(account_of(mount, shared));
    accounts_.back().at = accounts_.size() - 1;
  }
  const auto fits_best =
      std::min_element(accounts_.begin(), accounts_.end(),
                       [](const Account& a, const Account& b) { return a.rss < b.rss; });
  const double variance = fits_best->variance;
  const auto cost = [variance](const Account& a) { return a.rss + a.price * variance; };
  std::sort(accounts_.begin(), accounts_.end(),
            [&](const Account& a, const Account& b) { return cost(a) < cost(b); });
  const Account best = accounts_.front();
  if (best.rss >= 1e299 || best.freedom < kFewestFree)
    return accounts_.clear();
  for (Account& a : accounts_)
    a.excess = (cost(a) - cost(best)) / best.variance;
  const auto beside_best = [&](const Account& a) {
    return std::abs(std::log(a.mount.wn / best.mount.wn)) < 1.5 * best.speed_step &&
           std::abs(std::log(a.mount.z / best.mount.z)) < 1.5 * best.damping_step + 1e-9;
  };
  for (const Account& a : accounts_)
    if (a.excess < kLikely || beside_best(a))
      plausible_.push_back(a);
  for (const Account& a : accounts_)
    if (a.excess > kHopeless)
      hopeless_.push_back(a.at);
  std::sort(hopeless_.begin(), hopeless_.end());
  std::erase_if(accounts_, [](const Account& a) { return a.excess > kFitsToo; });
  const BorderSolution& none = shared.without;
  const double gain = none.solvable ? (none.rss - best.rss) / 4.0 / best.variance : 0.0;
  const double chance = speeds_differ() ? tail_f(gain, 4.0, best.freedom) : 1.0;
  grows_ = chance < kGrows;
  const auto sways = [](const Account& a) { return a.mount.wn < kSways; };
  soft_too_ =
      model_.natural || chance < kHints || std::all_of(plausible_.begin(), plausible_.end(), sways);
  if (!soft_too_)
    std::erase_if(plausible_, sways);
}

const std::vector<LiveBank::Account>& LiveBank::accounts() const {
  if (!weighed_)
    weigh();
  return accounts_;
}

const std::vector<LiveBank::Account>& LiveBank::plausible() const {
  if (!weighed_)
    weigh();
  return plausible_;
}

bool LiveBank::reckoned_with(const Account& account) const {
  return soft_too_ || account.mount.wn >= kSways;
}

bool LiveBank::speeds_differ() const {
  return baseline_laid_ || fastest_used_ > kOneSpeed * slowest_used_;
}

bool LiveBank::grows() const {
  if (!weighed_)
    weigh();
  return grows_;
}

} // namespace whirler::tach
