#include "live_mounts.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kSpeedUnit = 100.0; ///< rad/s
constexpr double kStep = 0.113;      ///< of ln natural speed, from mount to mount
constexpr double kNamedStep = 0.036;
constexpr double kDampingStep = 1.1; ///< of ln damping
/// Finer than this nothing is gained: what is left is the pulses' noise.
constexpr double kFineStep = 0.02;
constexpr double kFineDampingStep = 0.2;
constexpr double kFiner = 3.0;
constexpr std::size_t kKept = 2048;         ///< turns
constexpr std::size_t kMostAtOnce = 100000; ///< turns to be lived through: some 50 ms
constexpr std::size_t kMostMounts = 240;

struct Knot {
  MountNumbers numbers;
  double speed_step;
  double damping_step;
};

std::vector<Knot> net_of(const SpinnerModel& model) {
  std::vector<Knot> out;
  const double step = model.natural ? kNamedStep : kStep;
  const auto add = [&](double natural_hz) {
    if (model.damping && model.natural)
      out.push_back({{kTwoPi * natural_hz, std::clamp(*model.damping, 0.005, 0.6)}, step, 0.0});
    else
      for (const double z : {0.02, 0.06, 0.18})
        out.push_back({{kTwoPi * natural_hz, z}, step, kDampingStep});
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

LiveMounts::LiveMounts(const SpinnerModel& model, const StepTransform& transform,
                       std::size_t plumbs, const Elimination& fresh)
    : transform_(&transform), plumbs_(plumbs), fresh_(fresh), g_(transform.steps()) {
  for (const Knot& knot : net_of(model))
    mounts_.push_back(fresh_mount(knot.numbers, knot.speed_step, knot.damping_step));
  past_.reserve(kKept);
}

LiveMounts::Mount LiveMounts::fresh_mount(MountNumbers numbers, double speed_step,
                                          double damping_step) {
  return {numbers, speed_step, damping_step, MountMotion(numbers, transform_->steps()), fresh_};
}

void LiveMounts::live_through(Mount& mount, const MountTurn& turn) {
  constexpr std::size_t r = MountTurn::kRows;
  for (std::size_t i = 0; i < turn.skips; ++i)
    mount.fit.skip_turn();
  if (turn.settle)
    mount.motion.settle(turn.speed, 0.0);
  const double ramp = turn.slope * turn.speed * turn.speed / kTwoPi;
  const std::size_t steps = transform_->steps();
  mount.motion.turn(std::span(turn.step_s).first(steps), ramp, g_);
  mount.swing = std::abs(g_.front());
  if (turn.leave_out)
    return mount.fit.skip_turn();
  std::array<double, kMostExtra * r> extra{};
  for (std::size_t p = 0; p < plumbs_; ++p)
    extra[p * r + p + 1] = turn.plumb;
  transform_->add_whirl(g_, std::span(turn.late).first(steps),
                        std::span(extra).subspan(plumbs_ * r, r),
                        std::span(extra).subspan((plumbs_ + 1) * r, r));
  mount.fit.add_turn(turn.rows, turn.speed / kSpeedUnit, turn.slope, extra, turn.weight);
}

void LiveMounts::turn(const MountTurn& turn) {
  for (Mount& mount : mounts_)
    live_through(mount, turn);
  past_complete_ = past_complete_ && past_.size() < kKept;
  if (past_complete_)
    past_.push_back(turn);
}

/// The finer net's other knots, up to half way to the next mount.
std::vector<LiveMounts::Mount> LiveMounts::about(const Mount& centre) {
  const bool speeds = centre.speed_step > kFineStep;
  const bool dampings = centre.damping_step > kFineDampingStep;
  const double speed_step = speeds ? centre.speed_step / kFiner : centre.speed_step;
  const double damping_step = dampings ? centre.damping_step / kFiner : centre.damping_step;
  std::vector<Mount> out;
  for (int i = speeds ? -1 : 0; i <= (speeds ? 1 : 0); ++i)
    for (int j = dampings ? -1 : 0; j <= (dampings ? 1 : 0); ++j)
      if (i != 0 || j != 0)
        out.push_back(fresh_mount({centre.numbers.wn * std::exp(i * speed_step),
                                   std::min(0.6, centre.numbers.z * std::exp(j * damping_step))},
                                  speed_step, damping_step));
  return out;
}

bool LiveMounts::refine(std::span<const std::size_t> about_these) {
  std::vector<Mount> added;
  for (const std::size_t i : about_these)
    if (!mounts_[i].refined)
      for (Mount& mount : about(mounts_[i]))
        added.push_back(std::move(mount));
  if (added.empty() || !past_complete_ || added.size() * past_.size() > kMostAtOnce ||
      mounts_.size() + added.size() > kMostMounts)
    return false;
  for (const std::size_t i : about_these) {
    Mount& centre = mounts_[i];
    if (centre.refined)
      continue;
    if (centre.speed_step > kFineStep)
      centre.speed_step /= kFiner;
    if (centre.damping_step > kFineDampingStep)
      centre.damping_step /= kFiner;
    centre.refined = centre.speed_step <= kFineStep && centre.damping_step <= kFineDampingStep;
  }
  for (Mount& mount : added) {
    mount.refined = mount.speed_step <= kFineStep && mount.damping_step <= kFineDampingStep;
    for (const MountTurn& turn : past_)
      live_through(mount, turn);
    mounts_.push_back(std::move(mount));
  }
  return true;
}

void LiveMounts::drop(const std::function<bool(const Mount&)>& hopeless) {
  std::erase_if(mounts_, hopeless);
}

} // namespace whirler::tach
