#include "live_mounts.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr double kStep = 0.113; ///< of ln natural speed, from mount to mount
constexpr double kNamedStep = 0.036;
constexpr double kDampingStep = 1.1; ///< of ln damping
constexpr double kMostDamping = 0.6;
/// Finer than this nothing is gained: what is left is the pulses' noise.
constexpr double kFineStep = 0.02;
constexpr double kFineDampingStep = 0.2;
constexpr double kFiner = 3.0;
constexpr std::size_t kKept = 2048;         ///< turns
constexpr std::size_t kMostAtOnce = 100000; ///< turns to be lived through: some 50 ms
constexpr std::size_t kMostMounts = 240;

/// Steps of ln natural speed and of ln damping.
struct Mesh {
  double speed;
  double damping;
};

/// The same where it is fine enough already.
Mesh finer_than(Mesh mesh) {
  return {mesh.speed > kFineStep ? mesh.speed / kFiner : mesh.speed,
          mesh.damping > kFineDampingStep ? mesh.damping / kFiner : mesh.damping};
}

struct Knot {
  MountNumbers numbers;
  double speed_step;
  double damping_step;
  double price = 0.0;
};

constexpr double kSoftest = 5.0; // Hz
constexpr double kStiffest = 120.0;

/// Others than the one that is named: coarse, since only one that is far off need be found.
void add_others(std::vector<Knot>& net, double named_hz) {
  constexpr double kOtherStep = 0.223; // of ln natural speed
  constexpr double kNear = 0.13;
  constexpr double kBesideName = 36.0; // chi^2
  for (double hz = kSoftest; hz < kStiffest; hz *= std::exp(kOtherStep))
    for (const double z : {0.03, 0.12})
      if (std::abs(std::log(hz / named_hz)) > kNear)
        net.push_back({{kTwoPi * hz, z}, kOtherStep, kDampingStep, kBesideName});
}

std::vector<Knot> net_of(const SpinnerModel& model) {
  std::vector<Knot> out;
  const double step = model.natural ? kNamedStep : kStep;
  const auto add = [&](double natural_hz) {
    if (model.damping && model.natural)
      out.push_back(
          {{kTwoPi * natural_hz, std::clamp(*model.damping, 0.005, kMostDamping)}, step, 0.0});
    else
      for (const double z : {0.02, 0.06, 0.18})
        out.push_back({{kTwoPi * natural_hz, z}, step, kDampingStep});
  };
  if (model.natural) {
    for (const double share : {0.93, 0.965, 1.0, 1.035, 1.07})
      add(share * model.natural->Hz());
    add_others(out, model.natural->Hz());
    return out;
  }
  for (double hz = kSoftest; hz < kStiffest; hz *= 1.12)
    add(hz);
  return out;
}

} // namespace

LiveMounts::LiveMounts(const SpinnerModel& model, const StepTransform& transform)
    : transform_(&transform), g_(transform.steps()) {
  for (const Knot& knot : net_of(model))
    mounts_.push_back(fresh_mount(knot.numbers, knot.speed_step, knot.damping_step, knot.price));
  past_.reserve(kKept);
}

LiveMounts::Mount LiveMounts::fresh_mount(MountNumbers numbers, double speed_step,
                                          double damping_step, double price) {
  return {numbers, speed_step, damping_step, MountMotion(numbers, transform_->steps()), {}, price};
}

void LiveMounts::live_through(Mount& mount, const MountTurn& turn) {
  if (turn.hole)
    return mount.whirl.next_knot(turn.shared);
  const double ramp = turn.slope * turn.speed * turn.speed / kTwoPi;
  if (turn.begin)
    mount.motion.begin(turn.speed * (1.0 - 0.5 * turn.slope), ramp);
  const std::size_t steps = transform_->steps();
  mount.motion.turn(std::span(turn.step_s).first(steps), ramp, g_);
  mount.swing = std::abs(g_.front());
  if (turn.ahead)
    return;
  if (!turn.leave_out) {
    std::array<double, kLiveRows> re{};
    std::array<double, kLiveRows> im{};
    transform_->add_whirl(g_, std::span(turn.late).first(steps), re, im);
    mount.whirl.add_turn(turn.shared, re, im);
  }
  mount.whirl.next_knot(turn.shared);
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
  const Mesh finer = finer_than({centre.speed_step, centre.damping_step});
  const int speeds = finer.speed < centre.speed_step ? 1 : 0;
  const int dampings = finer.damping < centre.damping_step ? 1 : 0;
  std::vector<Mount> out;
  for (int i = -speeds; i <= speeds; ++i)
    for (int j = -dampings; j <= dampings; ++j)
      if (i != 0 || j != 0)
        out.push_back(
            fresh_mount({centre.numbers.wn * std::exp(i * finer.speed),
                         std::min(kMostDamping, centre.numbers.z * std::exp(j * finer.damping))},
                        finer.speed, finer.damping, centre.price));
  return out;
}

bool LiveMounts::refine(std::span<const std::size_t> about_these) {
  std::vector<Mount> added;
  for (const std::size_t i : about_these)
    for (Mount& mount : about(mounts_[i]))
      added.push_back(std::move(mount));
  if (added.empty() || !past_complete_ || added.size() * past_.size() > kMostAtOnce ||
      mounts_.size() + added.size() > kMostMounts)
    return false;
  for (const std::size_t i : about_these) {
    const Mesh finer = finer_than({mounts_[i].speed_step, mounts_[i].damping_step});
    mounts_[i].speed_step = finer.speed;
    mounts_[i].damping_step = finer.damping;
  }
  for (Mount& mount : added) {
    for (const MountTurn& turn : past_)
      live_through(mount, turn);
    mounts_.push_back(std::move(mount));
  }
  return true;
}

void LiveMounts::drop(std::span<const std::size_t> hopeless) {
  for (auto i = hopeless.rbegin(); i != hopeless.rend(); ++i)
    mounts_.erase(mounts_.begin() + static_cast<std::ptrdiff_t>(*i));
}

} // namespace whirler::tach
