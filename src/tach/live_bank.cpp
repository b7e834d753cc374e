#include "live_bank.hpp"

#include "live_turns.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr std::size_t kRows = 3; ///< the mean and order 1: cogging changes the others with speed
constexpr std::size_t kOrders = 1;
constexpr double kSpeedUnit = 100.0; ///< rad/s
constexpr double kFitsToo = 30.0;    ///< chi^2 over the best within which a mount is kept
constexpr double kStep = 0.113;      ///< of ln natural speed, from mount to mount
constexpr double kNamedStep = 0.036;
constexpr double kDampingStep = 1.1; ///< of ln damping
constexpr double kGrows = 1e-9;      ///< chance that noise alone looks so much like unbalance
constexpr double kOneSpeed = 1.15; ///< fastest over slowest; less is one speed, and shows no growth
constexpr double kFewestFree = 10.0; ///< degrees of freedom
constexpr std::size_t kFewestTurns = 8;
/// The first turns from rest: friction, cogging and a loop that has not yet seen a whole turn move
/// them more than marks and plate do.
constexpr std::size_t kStartTurns = 6;
constexpr double kStartSpeed = 35.0; ///< rad/s
constexpr std::size_t kBlockTurns = 16;
constexpr double kBlockTime = 0.5;     ///< s
constexpr std::size_t kWeighEvery = 4; ///< turns
constexpr double kWeighTime = 0.1;     ///< s; weighing costs as much as some turns
constexpr double kBaselineSd = 2e-5;   ///< rad: what a baseline is good for from run to run

std::vector<MountNumbers> mounts_of(const SpinnerModel& model) {
  std::vector<MountNumbers> out;
  const auto add = [&](double natural_hz) {
    if (model.damping && model.natural)
      out.push_back({kTwoPi * natural_hz, std::clamp(*model.damping, 0.005, 0.6)});
    else
      for (const double z : {0.02, 0.06, 0.18})
        out.push_back({kTwoPi * natural_hz, z});
  };
  if (model.natural) {
    for (const double share : {0.93, 0.965, 1.0, 1.035, 1.07})
      add(share * model.natural->Hz());
    return out;
  }
  constexpr double kSoftest = 7.0; // Hz; see run_up.cpp
  constexpr double kStiffest = 120.0;
  for (double hz = kSoftest; hz < kStiffest; hz *= 1.12)
    add(hz);
  return out;
}

} // namespace

LiveBank::LiveBank(const SpinnerModel& model, std::optional<OnceVector> baseline)
    : model_(model), baseline_(baseline),
      basis_(static_cast<std::size_t>(std::max(model.marks_per_turn, 2)), kRows, kOrders),
      transform_(basis_, Steps::coarse) {
  start_over();
}

void LiveBank::start_over() {
  mounts_.clear();
  for (const MountNumbers& numbers : mounts_of(model_)) {
    mounts_.push_back({numbers, MountMotion(numbers, transform_.steps()),
                       Elimination(basis_, plumbs() + 2), 0.0});
    add_baseline(mounts_.back().fit);
    expect_plumb(mounts_.back().fit);
  }
  without_.emplace(basis_, plumbs());
  add_baseline(*without_);
  expect_plumb(*without_);
  recent_.emplace(basis_, 0);
  recent_turns_ = 0;
  recent_time_ = 0.0;
  block_.reset();
  settled_ = false;
  turns_ = 0;
  slowest_used_ = 1e300;
  fastest_used_ = 0.0;
  weighed_ = false;
  weighed_at_ = 0;
}

void LiveBank::add_baseline(Elimination& fit) const {
  if (!baseline_)
    return;
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
  constexpr double kPulse = 2e-4;    // rad, of one pulse; the fit's own is not known yet
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
    for (Mount& mount : mounts_)
      mount.fit.skip_turn();
    without_->skip_turn();
    recent_->skip_turn();
  }
  settled_ = false;
}

/// As in a recording's ramps, by the mean of the marks; corners are left out altogether.
void LiveBank::lay_steps(const TurnRows& rows) {
  constexpr std::size_t kMiddle = LiveTurns::kMiddle;
  const std::size_t steps = transform_.steps();
  const auto mean = [&](std::size_t i) {
    return rows.turn(i)[0] / std::sqrt(static_cast<double>(basis_.marks)) / rows.speed[i];
  };
  const double at_begin = 0.5 * (mean(kMiddle - 1) + mean(kMiddle));
  const double at_end = 0.5 * (mean(kMiddle) + mean(kMiddle + 1));
  step_s_.resize(steps);
  late_.resize(steps);
  double before = rows.knots[kMiddle] + at_begin;
  for (std::size_t s = 0; s < steps; ++s) {
    const double u = static_cast<double>(s + 1) / static_cast<double>(steps);
    const double now = moment_of(rows, kMiddle, u).time + at_begin * (1.0 - u) + at_end * u;
    step_s_[s] = std::max(now - before, rows.tick_s);
    before = now;
    late_[s] = transform_.late(s, rows.turn(kMiddle));
  }
}

void LiveBank::turn(const TurnSlots& around, Duration tick, bool bad) {
  constexpr std::size_t kMiddle = LiveTurns::kMiddle;
  const TurnRows rows = turn_rows(basis_, around, tick, 0, LiveTurns::kTurns, Course::ramp);
  speed_ = rows.speed[kMiddle];
  slope_ = rows.slope[kMiddle];
  slowest_ = turns_ == 0 ? speed_ : std::min(slowest_, speed_);
  ++turns_;
  since_weighed_ += kTwoPi / speed_;
  if (turns_ >= weighed_at_ + kWeighEvery && since_weighed_ > kWeighTime)
    weighed_ = false;
  const bool from_rest = turns_ <= kStartTurns && speed_ < kStartSpeed;
  bool leave_out = bad || from_rest || std::abs(slope_) > kTooFast;
  for (std::size_t i = 0; i < 3; ++i)
    leave_out = leave_out || std::abs(bend_at(rows.knots, i)) > kCorner;
  lay_steps(rows);
  const double ramp = slope_ * speed_ * speed_ / kTwoPi;
  const std::size_t r = basis_.rows;
  std::array<double, kMostExtra * kRows> extra{};
  for (std::size_t p = 0; p < plumbs(); ++p)
    extra[p * r + p + 1] = basis_.order_one_scale * std::pow(kPlumbAt / speed_, 2);
  std::vector<Complex> g(transform_.steps());
  for (Mount& mount : mounts_) {
    if (!settled_)
      mount.motion.settle(speed_, 0.0);
    mount.motion.turn(step_s_, ramp, g);
    mount.swing = std::abs(g.front());
    if (leave_out) {
      mount.fit.skip_turn();
      continue;
    }
    const auto re = std::span(extra).subspan(plumbs() * r, r);
    const auto im = std::span(extra).subspan((plumbs() + 1) * r, r);
    std::fill(re.begin(), re.end(), 0.0);
    std::fill(im.begin(), im.end(), 0.0);
    transform_.add_whirl(g, late_, re, im);
    mount.fit.add_turn(rows.turn(kMiddle), speed_ / kSpeedUnit, slope_, extra);
  }
  settled_ = true;
  if (!leave_out) {
    slowest_used_ = std::min(slowest_used_, speed_);
    fastest_used_ = std::max(fastest_used_, speed_);
  }
  if (leave_out) {
    without_->skip_turn();
    recent_->skip_turn();
    return;
  }
  without_->add_turn(rows.turn(kMiddle), speed_ / kSpeedUnit, slope_, extra);
  add_to_block(rows);
}

void LiveBank::add_to_block(const TurnRows& rows) {
  recent_->add_turn(rows.turn(LiveTurns::kMiddle), speed_ / kSpeedUnit, slope_);
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

LiveBank::Account LiveBank::account_of(const Mount& mount) const {
  const BorderNormal normal = mount.fit.border();
  const BorderSolution s = solve(normal);
  Account out;
  out.mount = mount.numbers;
  out.swing = mount.swing;
  out.proves =
      baseline_.has_value() || model_.inertia.has_value() || mount.numbers.wn > 1.05 * slowest_;
  out.rss = s.solvable ? s.rss : 1e300;
  if (!s.solvable)
    return out;
  out.freedom = std::max(1.0, normal.observations - static_cast<double>(normal.size));
  out.variance = s.rss / out.freedom;
  const bool both = basis_.marks > 2;
  const double scale = 1.0 / basis_.order_one_scale;
  const std::size_t plumb = basis_.rows - 1;
  const std::size_t whirl = plumb + plumbs();
  const auto sd = [&](std::size_t i, std::size_t j) {
    return std::sqrt(std::max(s.covariance(i, i), s.covariance(j, j)) * out.variance);
  };
  out.far_above = {s.value[whirl], s.value[whirl + 1]};
  out.far_sd = sd(whirl, whirl + 1);
  out.pattern = {s.value[0] * scale, both ? s.value[1] * scale : 0.0};
  out.pattern_sd = sd(0, both ? 1 : 0) * scale;
  out.plumb = {s.value[plumb], both ? s.value[plumb + 1] : 0.0};
  return out;
}

void LiveBank::weigh() const {
  weighed_ = true;
  weighed_at_ = turns_;
  since_weighed_ = 0.0;
  accounts_.clear();
  plausible_.clear();
  grows_ = false;
  if (turns_ < kFewestTurns)
    return;
  for (const Mount& mount : mounts_)
    accounts_.push_back(account_of(mount));
  std::sort(accounts_.begin(), accounts_.end(),
            [](const Account& a, const Account& b) { return a.rss < b.rss; });
  const Account best = accounts_.front();
  if (best.rss >= 1e299 || best.freedom < kFewestFree)
    return accounts_.clear();
  const double step = model_.natural ? kNamedStep : kStep;
  for (const Account& a : accounts_)
    if (std::abs(std::log(a.mount.wn / best.mount.wn)) < 1.5 * step &&
        std::abs(std::log(a.mount.z / best.mount.z)) < 1.5 * kDampingStep)
      plausible_.push_back(a);
  std::erase_if(accounts_,
                [&](const Account& a) { return a.rss > best.rss + kFitsToo * best.variance; });
  const BorderSolution none = solve(without_->border());
  const double gain = none.solvable ? (none.rss - best.rss) / 4.0 / best.variance : 0.0;
  grows_ = speeds_differ() && tail_f(gain, 4.0, best.freedom) < kGrows;
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

bool LiveBank::speeds_differ() const {
  return baseline_ || fastest_used_ > kOneSpeed * slowest_used_;
}

bool LiveBank::grows() const {
  if (!weighed_)
    weigh();
  return grows_;
}

} // namespace whirler::tach
