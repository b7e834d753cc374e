#include "whirler/plant/motor_controller.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::plant {
namespace {

using link::DriverState;
using link::Latch;
using link::NakCode;

constexpr Duration kFirstInterval = seconds(1.0); // of a start, for a plausible one to be seen
constexpr Duration kStartTakes = seconds(3.0);    // until three were seen
constexpr Duration kTachLost = milliseconds(250.0);
constexpr Duration kImplausible = milliseconds(300.0);
constexpr Duration kBlindStill = seconds(60.0); // standstill when the tach is not believed
constexpr double kOverspeed = 1.1;
constexpr int kOverspeedIntervals = 3;
constexpr int kStartIntervals = 3;
constexpr int kMiscountedTurns = 3;
// "Far above": this much of full command, and this share, over what an honest run needs.
constexpr double kFarAbove = 0.05;
constexpr double kFarAboveShare = 1.25;

std::uint32_t milli_rpm(Speed speed) {
  return static_cast<std::uint32_t>(std::llround(speed.rpm() * 1e3));
}
std::uint32_t milli_rpm_s(Ramp slope) {
  return static_cast<std::uint32_t>(std::llround(slope.rpm_per_s() * 1e3));
}

MotorController::Refusal refuse(NakCode code, std::uint32_t asked = 0, std::uint32_t allowed = 0) {
  return link::Nak{0, 0, code, asked, allowed};
}

std::uint32_t to_ms(Duration time) { // wraps, as the line's does
  return static_cast<std::uint32_t>(static_cast<std::uint64_t>(std::floor(time.ms() + 1e-6)));
}

bool distrusts_tach(Latch latch) {
  return latch == Latch::stall || latch == Latch::tach_lost || latch == Latch::tach_implausible;
}

} // namespace

MotorController::MotorController(const ControllerModel& model, Latch woke_by)
    : model_(model), tach_(model.driver), table_(model.driver.max_segments), loop_(model.nominal),
      latch_(woke_by) {}

bool MotorController::turning() const {
  return state_ == DriverState::starting || state_ == DriverState::running ||
         state_ == DriverState::stopping;
}

bool MotorController::take_news() { return std::exchange(news_, false); }

/// The one way out of turning, and the way into being latched. A fault is never overwritten; what
/// is no fault is.
void MotorController::off(Latch why) {
  const bool replaceable =
      latch_ == Latch::none || latch_ == Latch::done || latch_ == Latch::operator_stop;
  if (turning()) // from `ready` nothing turned: what stood still does so yet
    off_since_ = now_;
  if (state_ != DriverState::latched ? replaceable : latch_ == Latch::none)
    latch_ = why;
  command_ = 0.0;
  enabled_ = false;
  state_ = DriverState::latched;
  news_ = true;
}

void MotorController::hello(bool common_version) {
  if (state_ != DriverState::latched)
    off(Latch::new_host);
  greeted_ = common_version;
  tach_.send_to_host(common_version);
}

void MotorController::stop(link::StopKind kind) {
  news_ = true;
  const bool ramp_possible = state_ == DriverState::running || state_ == DriverState::stopping;
  if (kind == link::StopKind::cut) {
    off(Latch::operator_cut);
  } else if (!ramp_possible) {
    off(Latch::operator_stop);
  } else if (state_ == DriverState::running) {
    latch_ = Latch::operator_stop;
    state_ = DriverState::stopping;
    walk_.stop(tach_.measured());
  }
}

void MotorController::lid(bool open) {
  if (!model_.driver.lid_switch || open == lid_open_)
    return;
  lid_open_ = open;
  news_ = true;
  if (open && state_ != DriverState::latched)
    off(Latch::lid_open);
}

bool MotorController::still() const {
  if (turning())
    return false;
  const Duration quiet = std::min(tach_.silence(), now_ - off_since_);
  return quiet >= (distrusts_tach(latch_) ? kBlindStill : model_.driver.still_after);
}

MotorController::Refusal MotorController::clear() {
  if (state_ == DriverState::ready)
    return std::nullopt;
  if (turning() || !still())
    return refuse(NakCode::turning);
  if (lid_open_)
    return refuse(NakCode::lid_open);
  latch_ = Latch::none;
  state_ = DriverState::ready;
  table_.clear();
  news_ = true;
  return std::nullopt;
}

MotorController::Refusal MotorController::put(const link::Segment& segment) {
  const auto& driver = model_.driver;
  if (driver.tach_only)
    return refuse(NakCode::tach_only);
  if (state_ != DriverState::ready)
    return refuse(NakCode::bad_state);
  if (segment.index >= driver.max_segments)
    return refuse(NakCode::bad_index, segment.index, driver.max_segments - 1U);
  if (segment.target > driver.max_speed)
    return refuse(NakCode::speed_high, milli_rpm(segment.target), milli_rpm(driver.max_speed));
  if (segment.target < driver.min_speed)
    return refuse(NakCode::speed_low, milli_rpm(segment.target), milli_rpm(driver.min_speed));
  if (segment.slope <= rpm_per_s(0.0))
    return refuse(NakCode::slope_zero);
  if (segment.slope > driver.max_slope)
    return refuse(NakCode::slope_high, milli_rpm_s(segment.slope), milli_rpm_s(driver.max_slope));
  table_.put(segment);
  return std::nullopt;
}

MotorController::Refusal MotorController::check_program(const link::Start& start) const {
  if (start.segments == 0)
    return refuse(NakCode::no_segments);
  if (start.segments > model_.driver.max_segments)
    return refuse(NakCode::too_many_segments, start.segments, model_.driver.max_segments);
  if (const auto missing = table_.first_missing(start.segments))
    return refuse(NakCode::segment_missing, *missing);
  const auto segments = table_.first(start.segments);
  const std::uint32_t held = link::program_crc(segments);
  if (held != start.program_crc)
    return refuse(NakCode::program_differs, start.program_crc, held);
  for (const auto& segment : segments)
    if (segment.target > start.ceiling)
      return refuse(NakCode::speed_high, milli_rpm(segment.target), milli_rpm(start.ceiling));
  return std::nullopt;
}

MotorController::Refusal MotorController::check_start(const link::Start& start) const {
  const auto& driver = model_.driver;
  if (const auto refusal = check_program(start))
    return refusal;
  if (start.stop_slope <= rpm_per_s(0.0))
    return refuse(NakCode::slope_zero);
  if (start.stop_slope > driver.max_slope)
    return refuse(NakCode::slope_high, milli_rpm_s(start.stop_slope),
                  milli_rpm_s(driver.max_slope));
  if (start.token == 0 || start.token == program_.token)
    return refuse(NakCode::token_used);
  if (lid_open_)
    return refuse(NakCode::lid_open);
  if (!driver.lid_switch && !start.lid_confirmed)
    return refuse(NakCode::lid_unknown);
  return std::nullopt;
}

MotorController::Refusal MotorController::start(const link::Start& start) {
  if (model_.driver.tach_only)
    return refuse(NakCode::tach_only);
  if (turning() && start.token == program_.token)
    return std::nullopt;
  if (state_ != DriverState::ready)
    return refuse(NakCode::bad_state);
  if (const auto refusal = check_start(start))
    return refusal;
  program_ = start;
  tach_.forget();
  loop_.reset();
  implausible_ = seconds(0.0);
  started_ = fed_ = now_;
  enabled_ = true;
  state_ = DriverState::starting;
  news_ = true;
  return std::nullopt;
}

void MotorController::keep_alive(std::uint16_t report) {
  const auto newest = static_cast<std::uint16_t>(reports_ - 1);
  if (static_cast<std::uint16_t>(newest - report) <= link::kFreshReports)
    fed_ = now_;
}

Speed MotorController::ceiling() const {
  return std::min(model_.driver.max_speed, program_.ceiling);
}

void MotorController::advance(Duration dt, std::int64_t ticks) {
  now_ += dt;
  tach_.at(ticks);
  if (turning() && now_ - fed_ > link::kDeadMan)
    off(Latch::link_lost);
  if (state_ == DriverState::starting)
    watch_start();
  else if (turning())
    watch_run(dt);
  if (turning())
    drive(dt);
}

/// Until the marks are seen to pass: what holds the lowest speed, so that a dead tach cannot hide
/// more than that; or, where the marks are few, the least at which they pass in time to be seen.
double MotorController::start_command() const {
  constexpr double kIntervalsASecond = 6.0; // 2 in kFirstInterval, 4 in kStartTakes, and to spin up
  const double marks = model_.driver.marks_per_turn;
  const Speed seen = turns_per_s(marks > 1.0 ? kIntervalsASecond / marks : 2.5);
  return loop_.needed(std::min(ceiling(), std::max(model_.driver.min_speed, seen)));
}

void MotorController::watch_start() {
  const int seen = tach_.plausible_intervals(ceiling());
  const Duration waited = now_ - started_;
  const bool one_mark = model_.driver.marks_per_turn == 1;
  if (seen >= kStartIntervals) {
    state_ = DriverState::running;
    walk_ = ProgramWalk(table_.first(program_.segments), program_.stop_slope, tach_.measured());
    news_ = true;
  } else if (waited >= kStartTakes ||
             (seen == 0 && waited >= (one_mark ? 2.0 : 1.0) * kFirstInterval)) {
    off(Latch::tach_lost);
  }
}

bool MotorController::marks_overdue() const {
  const Duration quiet = tach_.silence();
  if (quiet <= kTachLost)
    return false;
  const Speed target = std::max(walk_.target().speed, model_.driver.min_speed);
  const Duration by_target = seconds(1.0 / (model_.driver.marks_per_turn * target.turns_per_s()));
  const Duration by_marks = tach_.last_interval().value_or(seconds(0.0));
  return quiet > 3.0 * std::max(by_target, by_marks);
}

Latch MotorController::why_no_marks() const {
  const auto last = tach_.last_interval();
  const bool slowed = last && tach_.speed_of(*last) < 0.5 * walk_.target().speed;
  return slowed ? Latch::stall : Latch::tach_lost;
}

void MotorController::watch_run(Duration dt) {
  const Target target = walk_.target();
  const bool expects_marks = target.speed >= model_.driver.min_speed;
  if (tach_.intervals_faster_than(kOverspeed * ceiling()) >= kOverspeedIntervals)
    return off(Latch::overspeed);
  if (expects_marks && marks_overdue())
    return off(why_no_marks());
  if (tach_.miscounted_turns() >= kMiscountedTurns)
    return off(Latch::tach_implausible);
  const double need = loop_.needed_at_most(tach_.measured(), target.slope);
  const bool far_above = command_ > kFarAboveShare * need + kFarAbove;
  implausible_ = far_above ? implausible_ + dt : seconds(0.0);
  if (implausible_ >= kImplausible)
    off(Latch::tach_implausible);
}

void MotorController::drive(Duration dt) {
  if (state_ == DriverState::starting) {
    command_ = start_command();
    return;
  }
  walk_.advance(dt);
  if (walk_.at_rest())
    return off(latch_ == Latch::none ? Latch::done : latch_);
  if (walk_.stopping() && state_ == DriverState::running) {
    state_ = DriverState::stopping;
    latch_ = Latch::done;
    news_ = true;
  }
  command_ = loop_.update(walk_.target(), {tach_.measured(), tach_.age()}, 1.0, dt);
}

link::Status MotorController::report(std::uint16_t frames_discarded) {
  link::Status status;
  status.report = reports_++;
  status.state = state_;
  status.latch = latch_;
  if (model_.driver.lid_switch)
    status.lid = lid_open_ ? link::LidState::open : link::LidState::closed;
  status.enabled = enabled_ && model_.driver.enable_output;
  status.still = still();
  if (turning() && state_ != DriverState::starting) {
    status.segment = walk_.segment();
    status.phase = walk_.phase();
    status.target = walk_.target().speed;
    status.phase_ms = to_ms(walk_.in_phase());
  }
  status.measured = tach_.measured();
  status.command_permille = static_cast<std::uint16_t>(std::lround(1000.0 * command_));
  status.clock_ms = to_ms(now_);
  status.pulses = tach_.pulses();
  status.pulses_dropped = tach_.dropped();
  status.frames_discarded = frames_discarded;
  status.token = program_.token;
  return status;
}

} // namespace whirler::plant
