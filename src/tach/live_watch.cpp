#include "whirler/tach/live_watch.hpp"

#include "live_bank.hpp"
#include "live_doubt.hpp"
#include "live_limit.hpp"
#include "live_range.hpp"
#include "live_turns.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kSurely = 5.0;      ///< standard deviations; every turn of every run asks anew
constexpr double kUsually = 2.45;    ///< of both components together, 95 %
constexpr double kKnown = 0.3;       ///< of the stop limit: a width that says what there is to say
constexpr std::size_t kAskEvery = 4; ///< turns
/// Where more marks than this are missing, or in more turns than this some are, nothing is judged:
/// the loop that misses them surges in step with them, and an even plate looks like any other
/// (counted, even plates stopped: of 1 in 12 and more, some; with 12 marks, of 1 in 24 all 12, of 1
/// in 20 2 of 15, of 1 in 30 and fewer none).
constexpr double kMissing = 0.07;
constexpr double kMissingInTurns = 0.45;
/// Where more turns than this have missed a mark, what is over must be so for some turns.
constexpr double kDisturbed = 0.03;
constexpr std::size_t kStands = 8; ///< turns
/// What is likely over, at 95 %, for so long is over: on a limit hardly above what these marks can
/// show a run would end before anything is as sure as kSurely.
constexpr double kLikelyFor = 3.0; ///< s

} // namespace

struct LiveWatch::State {
  SpinnerModel model;
  StopLimit stop;
  Duration tick;
  LiveTurns turns;
  LiveBank bank;
  bool over = false;
  mutable std::optional<double> over_at; ///< rad/s of a prediction that said yes
  mutable std::string reason;
  std::size_t asked_at = 0;
  std::optional<std::size_t> over_since;               ///< turns
  double likely_for_s = 0.0;                           ///< that it has been over the limit at 95 %
  mutable std::optional<std::size_t> to_be_over_since; ///< turns

  State(const SpinnerModel& m, Duration t, std::optional<OnceVector> baseline)
      : model(m), stop(m), tick(t), turns(static_cast<std::size_t>(std::max(1, m.marks_per_turn))),
        bank(m, baseline) {}

  [[nodiscard]] bool can_see() const {
    return model.marks_per_turn > 1 && model.sensor_on == SensorOn::ground;
  }
  [[nodiscard]] Range angles(double speed, double deviations, bool now) const;
  [[nodiscard]] Range unbalances(double speed, double deviations) const;
  [[nodiscard]] std::optional<Range> by_last_block(double deviations) const;
  [[nodiscard]] Range now() const;
  [[nodiscard]] Range likely_velocities(double speed) const;
  [[nodiscard]] bool pattern_known() const;
  [[nodiscard]] bool too_few_marks() const {
    return turns.missing_share() > kMissing || turns.bad_share() > kMissingInTurns;
  }
  [[nodiscard]] bool stands(bool is_over, std::optional<std::size_t>& since) const;
  [[nodiscard]] std::optional<std::pair<double, double>> seen_over(double allowed) const;
  [[nodiscard]] double likely_low() const;
  void ask_likely(double allowed, double since_s);
  [[nodiscard]] std::string of_missing(std::string said) const;
  [[nodiscard]] std::string of_name() const;
  /// What fits is not the mount that the model names.
  [[nodiscard]] bool is_other_mount() const {
    return !bank.accounts().empty() && bank.accounts().front().price > 0.0;
  }
  void ask(std::size_t turns_since);
  void judge_figure(LiveFigure& out) const;
  void explain(double value, double speed, std::string_view when) const;
};

Range LiveWatch::State::angles(double speed, double deviations, bool now) const {
  Range out;
  for (const auto& a : bank.accounts()) {
    if (deviations < kSurely && !bank.reckoned_with(a))
      continue;
    const double gain = now ? a.swing : std::abs(steady_gain(a.mount, speed));
    out.add(gain * std::abs(a.far_above), gain * reach_of(a, deviations) * a.far_sd, a.proves);
  }
  return out;
}

Range LiveWatch::State::unbalances(double speed, double deviations) const {
  Range out;
  for (const auto& a : bank.accounts())
    if (deviations >= kSurely || bank.reckoned_with(a))
      out.add(stop.unbalance_of(std::abs(a.far_above), speed),
              stop.unbalance_of(reach_of(a, deviations) * a.far_sd, speed), a.proves);
  return out;
}

/// The last turns alone, less what each mount's account calls pattern and plumb: it is what sees a
/// plate that comes loose late in a long dwell, where the account of all turns hardly moves.
std::optional<Range> LiveWatch::State::by_last_block(double deviations) const {
  const auto& block = bank.last_block();
  if (!block || bank.accounts().empty())
    return std::nullopt;
  Range out;
  for (const auto& a : bank.accounts()) {
    const double plumb = std::pow(LiveBank::kPlumbAt / block->speed, 2);
    const Complex whirl = block->vector - a.pattern - a.plumb * plumb;
    double value = std::abs(whirl);
    double reach = reach_of(a, deviations) * std::hypot(block->sd, a.pattern_sd);
    if (stop.of_unbalance()) {
      const double gain = std::abs(steady_gain(a.mount, block->speed));
      value = stop.unbalance_of(value / gain, block->speed);
      reach = stop.unbalance_of(reach / gain, block->speed);
    }
    out.add(value, reach, a.proves);
  }
  return out;
}

/// The whirl now, by each mount that may be it (of simulated coats with the mount named and not,
/// the interval held the truth in 9 of 10 and more; see coverage_test.cpp): what the last turns
/// show less its pattern, or before there are enough of them what its account says.
Range LiveWatch::State::now() const {
  Range out;
  const auto& block = bank.last_block();
  for (const auto& a : bank.plausible()) {
    if (block && std::abs(block->speed / bank.speed() - 1.0) < 0.05) {
      const double plumb = std::pow(LiveBank::kPlumbAt / block->speed, 2);
      out.add(std::abs(block->vector - a.pattern - a.plumb * plumb),
              kUsually * std::hypot(block->sd, a.pattern_sd), true);
    } else {
      const double gain = std::abs(steady_gain(a.mount, bank.speed()));
      out.add(gain * std::abs(a.far_above), gain * kUsually * a.far_sd, true);
    }
  }
  return out;
}

/// The same of the rotor's e times omega, at a speed that may not be reached yet.
Range LiveWatch::State::likely_velocities(double speed) const {
  Range out;
  for (const auto& a : bank.plausible())
    out.add(stop.velocity_of(std::abs(a.far_above), speed),
            stop.velocity_of(kUsually * a.far_sd, speed), true);
  return out;
}

/// The pattern counts as known once it is known well against the limit, or against the whirl.
bool LiveWatch::State::pattern_known() const {
  if (bank.has_baseline())
    return true;
  const auto& accounts = bank.accounts();
  if (accounts.empty() || !bank.speeds_differ())
    return false;
  const Range now = stop.of_unbalance() ? unbalances(bank.speed(), kUsually)
                                        : angles(bank.speed(), kUsually, false);
  const double allowed = kKnown * stop.value().value_or(0.0);
  return now.high - now.low < std::max(allowed, 0.6 * now.best);
}

void LiveWatch::State::explain(double value, double speed, std::string_view when) const {
  reason = stop.said(value, speed, when) + of_name();
}

/// Where another mount than the one that is named fits these pulses.
std::string LiveWatch::State::of_name() const {
  if (!is_other_mount())
    return "";
  return "; these pulses were made on a mount of about " +
         number_text(bank.accounts().front().mount.wn / kRadPerTurn, 2) + " Hz, not of the " +
         number_text(model.natural->Hz()) + " Hz that the machine's file names: put it right";
}

/// Once is enough, but where marks are missing. There no other mount than a named one counts: what
/// the loop makes of a mark that it misses fits many.
bool LiveWatch::State::stands(bool is_over, std::optional<std::size_t>& since) const {
  const bool disturbed = turns.bad_share() >= kDisturbed;
  if (!is_over || (disturbed && is_other_mount()))
    since.reset();
  else if (!since)
    since = bank.weighed_at();
  return since && (!disturbed || bank.weighed_at() >= *since + kStands);
}

/// What is over the limit for sure, and at which speed, rad/s.
std::optional<std::pair<double, double>> LiveWatch::State::seen_over(double allowed) const {
  if (bank.grows()) {
    const double speed = bank.speed();
    const Range now =
        stop.of_unbalance() ? unbalances(speed, kSurely) : angles(speed, kSurely, true);
    if (now.low > allowed)
      return std::pair(now.low, speed);
  }
  const auto last = by_last_block(kSurely);
  if ((bank.grows() || bank.has_baseline()) && last && last->low > allowed)
    return std::pair(last->low, bank.last_block()->speed);
  return std::nullopt;
}

/// The lower 95 % bound at the speed now, in the limit's measure.
double LiveWatch::State::likely_low() const {
  if (!stop.of_unbalance())
    return now().low;
  Range out;
  for (const auto& a : bank.plausible())
    out.add(stop.unbalance_of(std::abs(a.far_above), bank.speed()),
            stop.unbalance_of(kUsually * a.far_sd, bank.speed()), a.proves);
  return out.low;
}

void LiveWatch::State::ask_likely(double allowed, double since_s) {
  const bool tells = bank.grows() && !bank.plausible().empty() && turns.bad_share() < kDisturbed;
  const double low = tells ? likely_low() : 0.0;
  likely_for_s = low > allowed ? likely_for_s + since_s : 0.0;
  if (likely_for_s < kLikelyFor)
    return;
  over = true;
  explain(low, bank.speed(), "for seconds at");
}

void LiveWatch::State::ask(std::size_t turns_since) {
  const auto allowed = stop.value();
  if (over || !allowed || !can_see() || bank.accounts().empty() || too_few_marks())
    return;
  const auto seen = seen_over(*allowed);
  over = stands(seen.has_value(), over_since);
  if (over)
    explain(seen->first, seen->second, "at");
  else
    ask_likely(*allowed, kRadPerTurn * static_cast<double>(turns_since) / bank.speed());
}

/// What hinders the watch most is said first.
std::string LiveWatch::State::of_missing(std::string said) const {
  if (!(turns.missing_share() > 0.005))
    return said;
  return "one mark in " + number_text(1.0 / turns.missing_share(), 2) +
         " is missing: see to the sensor and its wire; " + said;
}

LiveWatch::LiveWatch(const SpinnerModel& model, Duration tick, std::optional<OnceVector> baseline)
    : state_(std::make_unique<State>(model, tick, baseline)) {}
LiveWatch::LiveWatch(LiveWatch&&) noexcept = default;
LiveWatch& LiveWatch::operator=(LiveWatch&&) noexcept = default;
LiveWatch::~LiveWatch() = default;

void LiveWatch::feed(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks) {
  if (state_->model.marks_per_turn < 2)
    return;
  for (std::size_t i = 0; i < ticks.size(); ++i) {
    const auto news = state_->turns.take(ticks[i], i < marks.size() ? marks[i] : -1);
    if (news.broken)
      state_->bank.broken(news.mark_lost);
    if (!news.turn)
      continue;
    state_->bank.turn(state_->turns.around(), state_->tick, news.bad, state_->turns.numbered());
    if (state_->bank.turns() >= state_->asked_at + kAskEvery ||
        state_->bank.turns() < state_->asked_at) {
      const bool anew = state_->bank.turns() < state_->asked_at;
      const std::size_t since = anew ? 0 : state_->bank.turns() - state_->asked_at;
      state_->asked_at = state_->bank.turns();
      state_->ask(since);
    }
  }
}

void LiveWatch::lost(std::uint64_t missing) {
  if (missing > 0)
    return state_->turns.announce(missing);
  const auto news = state_->turns.lose();
  if (news.broken)
    state_->bank.broken(news.mark_lost);
}

std::optional<LiveFigure> LiveWatch::figure() const {
  const State& s = *state_;
  if (!s.can_see() || s.bank.turns() == 0)
    return std::nullopt;
  LiveFigure out;
  out.speed = rad_per_s(s.bank.speed());
  out.turns = s.bank.turns();
  out.pattern_known = s.pattern_known();
  if (out.pattern_known && s.bank.plausible().empty())
    return std::nullopt; // a baseline, and too few turns to hold against it
  const auto& block = s.bank.last_block();
  if (out.pattern_known) {
    const Range now = s.now();
    out.amplitude = radians(now.best);
    out.interval = {radians(now.low), radians(now.high)};
  } else if (block) {
    out.amplitude = radians(std::abs(block->vector));
    const double reach = kUsually * block->sd;
    out.interval = {radians(std::max(0.0, out.amplitude.rad() - reach)),
                    radians(out.amplitude.rad() + reach)};
  } else {
    return std::nullopt;
  }
  if (s.model.limits.stop_angle && !s.stop.of_unbalance())
    out.limit = s.model.limits.stop_angle;
  if (s.stop.of_unbalance() && !s.bank.accounts().empty()) {
    const double gain = std::abs(steady_gain(s.bank.accounts().front().mount, s.bank.speed()));
    out.limit = radians(*s.stop.value() / s.stop.unbalance_of(1.0, s.bank.speed()) * gain);
  }
  s.judge_figure(out);
  return out;
}

void LiveWatch::State::judge_figure(LiveFigure& out) const {
  Evidence evidence;
  evidence.figure.speed = out.speed;
  evidence.figure.axes = axes_of(model.marks_per_turn);
  evidence.figure.amplitude = out.amplitude;
  evidence.figure.interval = out.interval;
  evidence.mount_known = bank.has_baseline() || model.natural || bank.grows();
  evidence.pattern_from = bank.has_baseline() ? PatternFrom::baseline
                          : out.pattern_known ? PatternFrom::run_up
                                              : PatternFrom::nothing;
  if (!evidence.mount_known && out.pattern_known)
    evidence.figure.interval.high =
        std::max(out.interval.high, radians(angles(bank.speed(), kUsually, false).high));
  if (model.gives_velocity()) {
    const Range v = likely_velocities(bank.speed());
    evidence.velocity =
        VelocityInterval{metres_per_s(v.low), metres_per_s(v.best), metres_per_s(v.high)};
  }
  Judgement judgement = judge(evidence, model);
  if (evidence.pattern_from == PatternFrom::nothing)
    judgement = {Verdict::cannot_tell, marks_and_plate(model, bank.speeds_differ()), ""};
  // Likely over is not yet sure enough to stop, and a word that stops nothing is no word.
  const Verdict likely = judgement.verdict == Verdict::stop ? Verdict::watch : judgement.verdict;
  out.verdict = over ? Verdict::stop : likely;
  if (over) {
    out.reason = reason;
    return;
  }
  if (too_few_marks())
    out.verdict = Verdict::cannot_tell;
  if (evidence.pattern_from == PatternFrom::nothing)
    out.reason = judgement.reason;
  else
    out.reason = said_of(judgement, model, bank.has_baseline()) + of_name();
  if (out.verdict == Verdict::cannot_tell)
    out.reason = of_missing(out.reason);
}

bool LiveWatch::over_stop_limit() const { return state_->over; }

bool LiveWatch::will_be_over(Speed target) const {
  const State& s = *state_;
  const auto allowed = s.stop.value();
  if (s.over_at && target.rad_per_s() >= *s.over_at)
    return true;
  if (!allowed || !s.can_see() || s.bank.accounts().empty() || s.too_few_marks())
    return false;
  const double speed = target.rad_per_s();
  const Range then =
      s.stop.of_unbalance() ? s.unbalances(speed, kSurely) : s.angles(speed, kSurely, false);
  if (!s.stands(s.bank.grows() && then.low > *allowed, s.to_be_over_since))
    return false;
  s.over_at = speed;
  s.explain(then.low, speed, "to be expected at");
  return true;
}

std::optional<Prediction> LiveWatch::predict(Speed target) const {
  const State& s = *state_;
  if (!s.can_see() || s.bank.accounts().empty())
    return std::nullopt;
  const Range angle = s.angles(target.rad_per_s(), kUsually, false);
  Prediction out{target, {radians(angle.low), radians(angle.high)}, std::nullopt};
  if (s.model.gives_velocity()) {
    const Range v = s.likely_velocities(target.rad_per_s());
    out.velocity =
        VelocityInterval{metres_per_s(v.low), metres_per_s(v.best), metres_per_s(v.high)};
  }
  return out;
}

std::string LiveWatch::reason() const { return state_->reason; }

} // namespace whirler::tach
