#include "whirler/tach/recording.hpp"

#include "cause_search.hpp"
#include "complex_vector.hpp"
#include "mark_pattern.hpp"
#include "mount_motion.hpp"
#include "run_up_of_turns.hpp"
#include "statistics.hpp"
#include "survey.hpp"
#include "trace.hpp"
#include "unbalance_of.hpp"
#include "verdict_doubts.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <span>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

double chance(OnceVector v, OnceCovariance c, double freedom, Axes axes) {
  const double x = v.re.rad();
  const double y = v.im.rad();
  if (axes == Axes::one)
    return tail_t_both(x / std::sqrt(c.re_re), freedom);
  const double det = c.re_re * c.im_im - c.re_im * c.re_im;
  if (!(det > 0.0))
    return 1.0;
  return tail_f2(0.5 * (c.im_im * x * x - 2.0 * c.re_im * x * y + c.re_re * y * y) / det, freedom);
}

/// Everything about the stretch that the figure is taken from.
struct Main {
  Place place;
  DwellFit fit;
  MarkPattern pattern;
  double freedom = 1.0;
};

double freedom_of(const DwellFit& fit) {
  return fit.scatter > 1.0 ? fit.scatter_freedom : fit.degrees_of_freedom;
}

Main fit_main(Survey& survey, const Place& place) {
  Main out{place, {}, {}, 1.0};
  out.fit = fit_dwell(*survey.basis, survey.parts[place.part].slots, survey.marked.tick,
                      place.dwell.from, place.dwell.to);
  out.pattern = pattern_of(out.fit, *survey.basis);
  out.freedom = freedom_of(out.fit);
  return out;
}

/// Sets what follows from the vector and its covariance.
void dress(OrderOne& figure, double freedom) {
  figure.amplitude = figure.axes == Axes::one ? radians(std::abs(figure.vector.re.rad()))
                                              : figure.vector.amplitude();
  figure.interval = amplitude_interval(figure.vector, figure.covariance, freedom, figure.axes);
  figure.p_value = chance(figure.vector, figure.covariance, freedom, figure.axes);
  figure.phase = figure.axes == Axes::both ? std::optional(figure.vector.phase()) : std::nullopt;
}

/// The baseline's vector taken off, turned to each position that the marks leave possible.
void take_off_baseline(Analysis& out, const Main& run, const Main& bare, const TurnBasis& basis,
                       bool both_numbered, bool& aligned) {
  const OrderOne bare_figure = figure_of(bare.fit, basis);
  std::vector<std::size_t> shifts{0};
  if (!both_numbered)
    shifts = possible_shifts(run.pattern, bare.pattern);
  aligned = shifts.size() == 1;
  const OnceVector whole = out.figure.vector;
  const double freedom = std::min(run.freedom, bare.freedom);
  out.figure.covariance = out.figure.covariance + bare_figure.covariance;
  out.pattern_from = PatternFrom::baseline;
  std::optional<OrderOne> first;
  Angle mean;
  for (const std::size_t shift : shifts) {
    const double turn = kTwoPi * static_cast<double>(shift) / static_cast<double>(basis.marks);
    const Complex off = as_complex(bare_figure.vector) * std::polar(1.0, -turn);
    OrderOne figure = out.figure;
    figure.vector = whole - as_vector(off);
    dress(figure, freedom);
    mean += figure.amplitude / static_cast<double>(shifts.size());
    if (!first) {
      first = figure;
      out.pattern = as_vector(off);
    }
    first->interval.low = std::min(first->interval.low, figure.interval.low);
    first->interval.high = std::max(first->interval.high, figure.interval.high);
    first->p_value = std::max(first->p_value, figure.p_value);
  }
  out.figure = *first;
  if (aligned)
    return;
  out.figure.amplitude = mean;
  out.figure.phase.reset();
  out.pattern.reset();
}

/// Whether whirls many times as large as all that is seen fit too, hidden by as large a pattern:
/// the speeds were too few, or too slow for this mount. Less than what anybody would act on is no
/// such whirl, however even the marks.
bool tells_nothing(const RunUp& run_up, const OrderOne& seen) {
  constexpr double kTimes = 5.0;
  constexpr double kNobodyActs = 5e-4; // rad
  const Whirl whirl = run_up.whirl_at(seen.speed);
  const double most =
      std::max(kNobodyActs, kTimes * seen.interval.high.rad() + whirl.interval.low.rad());
  return !run_up.mount.found && whirl.interval.high.rad() > most;
}

/// The unbalance's own part by the fit of all speeds.
void take_whirl(Analysis& out, const RunUp& run_up) {
  const Whirl whirl = run_up.whirl_at(out.figure.speed);
  out.figure.vector = whirl.vector;
  out.figure.covariance = whirl.covariance;
  // The way through the natural speed shows both components even to two marks.
  out.figure.amplitude = whirl.vector.amplitude();
  out.figure.interval = whirl.interval;
  out.figure.p_value = chance(whirl.vector, whirl.covariance, run_up.freedom, Axes::both);
  if (out.figure.phase)
    out.figure.phase = whirl.vector.phase();
  if (!run_up.mount.found)
    out.figure.p_value = std::max(out.figure.p_value, run_up.p_growth);
  out.pattern = run_up.pattern;
  out.pattern_from = run_up.mount.found ? PatternFrom::run_up : PatternFrom::slow_running;
}

/// Which mark is mark 0 is known by number, or by the first row and a pattern that tells the marks
/// apart.
bool angle_is_known(const Survey& survey, const Main& main) {
  return survey.parts[main.place.part].aligned &&
         (survey.marked.has_index || is_its_own_index(main.pattern));
}

/// Without a dwell the record's fastest turns stand for it.
Place without_dwell(const Survey& survey) {
  Place out;
  for (std::size_t p = 0; p < survey.parts.size(); ++p)
    if (survey.parts[p].turns() > survey.parts[out.part].turns())
      out.part = p;
  const TurnBegins begins = survey.parts[out.part].begins();
  const std::size_t turns = begins.size() - 1;
  std::size_t fastest = 0;
  for (std::size_t i = 0; i < turns; ++i)
    if (begins[i + 1] - begins[i] < begins[fastest + 1] - begins[fastest])
      fastest = i;
  const std::size_t reach = std::min<std::size_t>(turns, 2 * kLeastTurns);
  const std::size_t half = reach / 2;
  out.dwell.from = std::min(fastest > half ? fastest - half : 0, turns - reach);
  out.dwell.to = out.dwell.from + reach;
  out.dwell.speed =
      kTwoPi * static_cast<double>(reach) / (begins[out.dwell.to] - begins[out.dwell.from]);
  return out;
}

void note_counts(Analysis& out, const Survey& survey, const Main& main) {
  out.figure.counts = survey.marked.counts;
  out.figure.counts.outliers += main.fit.outliers;
  out.figure.counts.used = main.fit.turns * survey.basis->marks - main.fit.filled.size();
}

void note_blocks(Analysis& out, const Main& main) {
  for (const BlockVector& block : main.fit.blocks) {
    const double variance = main.fit.noise * main.fit.noise;
    out.blocks.push_back({block.vector - out.pattern.value_or(OnceVector{}),
                          radians(std::sqrt(block.covariance.largest() * variance))});
  }
}

Result<std::optional<Survey>> baseline_of(const Recording& recording) {
  if (!recording.baseline)
    return std::optional<Survey>();
  auto read = survey_of(*recording.baseline, recording.model.marks_per_turn);
  if (!read)
    return input_fault(read.fault().what, "tach pulses of the baseline", read.fault().next);
  return std::optional(std::move(read).value());
}

/// Where the pulses are judged, and against which bare hub.
struct Ground {
  Place place;
  std::optional<Main> bare{}; ///< at the speed of a dwell of the run
  std::string unused{};       ///< why a baseline that was given is not taken
};

Ground without_baseline(const Survey& survey) {
  const auto fastest = fastest_dwell(survey);
  return {fastest ? *fastest : without_dwell(survey)};
}

std::span<const std::int64_t> ticks_of(const Survey& survey, const Place& place) {
  const std::size_t marks = survey.basis->marks;
  return std::span(survey.parts[place.part].slots.ticks)
      .subspan(place.dwell.from * marks, place.dwell.turns() * marks + 1);
}

/// `both_numbered`: run and baseline number their marks from an index.
Result<Analysis> analyse_on(const Recording& recording, Survey& survey, Ground ground,
                            bool both_numbered) {
  const SpinnerModel& model = recording.model;
  const auto steady = ticks_of(survey, ground.place);
  if (!survey.marked.has_index)
    if (auto fault = doubt_count(steady, survey.basis->marks))
      return *fault;
  Analysis out;
  const Main main = fit_main(survey, ground.place);
  out.figure = figure_of(main.fit, *survey.basis);
  out.raw = out.figure.vector;
  if (out.figure.axes != Axes::both || !angle_is_known(survey, main))
    out.figure.phase.reset();
  note_counts(out, survey, main);
  if (out.figure.axes != Axes::none)
    out.run_up = fit_run_up(survey.parts[ground.place.part].slots, survey.marked.tick,
                            survey.basis->marks, model);
  // Two marks show one component; only the turn through the natural speed shows the other.
  if (out.run_up && out.figure.axes == Axes::one && !out.run_up->mount.found)
    out.run_up.reset();
  if (out.run_up && tells_nothing(*out.run_up, out.figure))
    out.run_up.reset();
  bool aligned = true;
  const bool phase_known = out.figure.phase.has_value();
  if (ground.bare)
    ground.unused = other_marks(main.pattern, ground.bare->pattern, both_numbered);
  if (ground.bare && ground.unused.empty() && out.figure.axes != Axes::none) {
    take_off_baseline(out, main, *ground.bare, *survey.basis, both_numbered, aligned);
    if (!phase_known)
      out.figure.phase.reset();
  } else if (out.run_up) {
    take_whirl(out, *out.run_up);
  }
  out.angle_from = survey.marked.has_index ? AngleFrom::index_mark : AngleFrom::first_pulse;
  weigh_unbalance(out, model);
  note_blocks(out, main);
  Evidence evidence{out.figure, out.pattern_from, out.velocity, true, false, aligned};
  evidence.mount_known = out.pattern_from != PatternFrom::slow_running;
  out.judgement = judge(evidence, model);
  if (recording.acceleration)
    if (auto fault = weigh_acceleration(out, recording, evidence))
      return *fault;
  doubt_named_mount(out, model);
  lean_on_named_mount(out, evidence, model);
  doubt_fit(out);
  say_unused(out, ground.unused, model);
  out.trace = trace_of(survey);
  hold_to_top_speed(out, evidence, model);
  out.findings = find_causes({recording, survey, ground.place, main.fit, main.pattern, out});
  doubt_moving_plate(out);
  if (!survey.marked.has_index)
    doubt_halves(out, steady, survey.basis->marks);
  return out;
}

} // namespace

Result<Analysis> analyse(const Recording& recording) {
  auto survey = survey_of(recording.pulses, recording.model.marks_per_turn);
  if (!survey)
    return survey.fault();
  auto read = baseline_of(recording);
  if (!read)
    return read.fault();
  std::optional<Survey> base = std::move(read).value();
  Ground ground = without_baseline(*survey);
  if (!base)
    return analyse_on(recording, *survey, std::move(ground), false);
  const auto like = fastest_dwell(*survey, &*base);
  if (!like) {
    ground.unused = !fastest_dwell(*survey) ? "the run holds no speed for long enough to lay the "
                                              "baseline on"
                    : !fastest_dwell(*base) ? "the baseline holds no speed for long enough"
                                            : "the baseline was not run at this speed";
    return analyse_on(recording, *survey, std::move(ground), false);
  }
  // A baseline of a slower speed than the run's fastest is not needed where the run's own slower
  // part tells the pattern.
  constexpr double kFaster = 1.2;
  if (ground.place.dwell.speed >= kFaster * like->dwell.speed) {
    Survey alone = *survey; // bad stamps are mended in it
    auto out = analyse_on(recording, alone, std::move(ground), false);
    if (out && out->pattern_from != PatternFrom::nothing) {
      out->judgement.reason += "; the baseline was not run at this speed and is not used";
      return out;
    }
  }
  const bool both_numbered = survey->marked.has_index && base->marked.has_index;
  Main bare = fit_main(*base, *dwell_at(*base, like->dwell.speed));
  return analyse_on(recording, *survey, {*like, std::move(bare), {}}, both_numbered);
}

} // namespace whirler::tach
