#include "coat_jitter.hpp"

#include "jitter_answer.hpp"
#include "run_vibration.hpp"

#include "whirler/balance/influence.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/report/coat_charts.hpp"
#include "whirler/report/polar_plot.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

using report::Look;
using report::Tone;
using Complex = std::complex<double>;

constexpr double kTwoSided95 = 1.959963985;

Tone tone_of(tach::Verdict verdict) {
  switch (verdict) {
  case tach::Verdict::even:
    return Tone::good;
  case tach::Verdict::watch:
    return Tone::watch;
  case tach::Verdict::stop:
    return Tone::stop;
  case tach::Verdict::cannot_tell:
    break;
  }
  return Tone::unknown;
}

std::string of(double value, double low, double high, const std::string& unit) {
  return number_text(value) + " " + unit + " (95 %: " + number_text(low) + " to " +
         number_text(high) + ")";
}

void add_figures(report::Section& section, const tach::Analysis& a) {
  auto& facts = section.facts;
  facts.push_back({"Read at", number_text(a.figure.speed.rpm(), 4) + " rpm, " +
                                  std::to_string(a.figure.turns) + " turns"});
  if (a.figure.axes != tach::Axes::none)
    facts.push_back({"Once per turn", of(a.figure.amplitude.mrad(), a.figure.interval.low.mrad(),
                                         a.figure.interval.high.mrad(), "mrad")});
  if (a.velocity)
    facts.push_back({"Centre of mass times speed",
                     of(a.velocity->estimate.mm_per_s(), a.velocity->low.mm_per_s(),
                        a.velocity->high.mm_per_s(), "mm/s")});
  if (a.unbalance)
    facts.push_back({"Unbalance", of(a.unbalance->estimate.g_mm(), a.unbalance->low.g_mm(),
                                     a.unbalance->high.g_mm(), "g mm")});
  if (a.unbalance && a.unbalance->heavy_side)
    facts.push_back({"Heavy side", number_text(a.unbalance->heavy_side->deg()) +
                                       " deg from the index mark, with the rotation"});
  const tach::PulseCounts& counts = a.figure.counts;
  if (counts.faults() > 0)
    facts.push_back({"Pulses put right", std::to_string(counts.missing) + " missing, " +
                                             std::to_string(counts.doubled) + " too many, " +
                                             std::to_string(counts.out_of_order) +
                                             " out of order, " + std::to_string(counts.outliers) +
                                             " impossible"});
}

std::vector<report::JitterPoint> points_of(const tach::Analysis& a, tach::OnceVector less) {
  std::vector<report::JitterPoint> points;
  for (const tach::TracePoint& p : a.trace) {
    const tach::OnceVector v = p.vector - less;
    const Angle half = kTwoSided95 * p.spread;
    points.push_back({p.at,
                      p.speed,
                      v.amplitude(),
                      {std::max(Angle{}, v.amplitude() - half), v.amplitude() + half},
                      v.phase()});
  }
  return points;
}

/// Turns a lateness vector into what the plot shows: unbalance towards the heavy side where that is
/// known, else the bare lateness, in the sense of the rotation.
struct OntoFace {
  Complex factor{1e3, 0.0}; ///< plot's unit a rad, and the turn to the heavy side
  std::string unit = "mrad";

  [[nodiscard]] Complex operator()(tach::OnceVector v) const {
    return factor * balance::from_lateness({v.re.rad(), v.im.rad()});
  }
};

OntoFace onto_face(const tach::Analysis& a) {
  const double amplitude = a.figure.vector.amplitude().rad();
  if (!a.unbalance || !a.unbalance->heavy_side || amplitude <= 0.0)
    return {};
  const double size = a.unbalance->estimate.g_mm() / amplitude;
  const double turn = a.unbalance->heavy_side->rad() + a.figure.vector.phase().rad();
  return {std::polar(size, turn), "g mm"};
}

/// The figure's covariance on the face: mirrored by the change of sense, then turned and scaled.
report::Ellipse ellipse_of(const tach::OnceCovariance& c, const OntoFace& face) {
  const Complex u = face.factor / std::abs(face.factor);
  const double k = std::norm(face.factor);
  const double xx = c.re_re;
  const double xy = -c.re_im;
  const double yy = c.im_im;
  const double co = u.real();
  const double si = u.imag();
  return report::ellipse_95(k * (co * co * xx - 2.0 * co * si * xy + si * si * yy),
                            k * (co * si * (xx - yy) + (co * co - si * si) * xy),
                            k * (si * si * xx + 2.0 * co * si * xy + co * co * yy));
}

/// The speed that the limits are for: the profile's highest, of a run too that was stopped on its
/// way there.
Speed judged_at(const CoatReading& reading) {
  Speed highest = reading.jitter->figure.speed;
  if (reading.profile)
    for (const profile::Step& step : reading.profile->steps)
      highest = std::max(highest, step.speed);
  return highest;
}

void add_limits(report::PolarPlot& plot, const CoatReading& reading, const OntoFace& face) {
  const tach::Analysis& a = *reading.jitter;
  const tach::FigureLimits& limits = reading.spinner.limits;
  if (face.unit == "mrad") {
    if (limits.watch_angle)
      plot.limits.push_back({"watch limit", limits.watch_angle->mrad(), Look::watch});
    if (limits.stop_angle)
      plot.limits.push_back({"stop limit", limits.stop_angle->mrad()});
    return;
  }
  const Speed at = judged_at(reading);
  const std::string where =
      at > 1.02 * a.figure.speed ? " at " + number_text(at.rpm(), 4) + " rpm" : "";
  const auto add_force = [&](const std::string& name, const std::optional<Force>& force,
                             Look look = Look::limit) {
    const double w = at.rad_per_s();
    if (force)
      plot.limits.push_back({name + where, kilogram_metres(force->N() / (w * w)).g_mm(), look});
  };
  add_force("watch limit", limits.watch_force, Look::watch);
  add_force("stop limit", limits.stop_force);
  const auto add = [&](const std::string& name, const std::optional<Velocity>& velocity,
                       Look look = Look::limit) {
    if (!velocity || !reading.spinner.rotor_mass)
      return;
    const auto allowed = balance::permissible_unbalance(*velocity, at, *reading.spinner.rotor_mass);
    if (allowed)
      plot.limits.push_back({name + where, allowed->g_mm(), look});
  };
  add("watch limit", limits.watch_velocity, Look::watch);
  add("stop limit", limits.stop_velocity);
  if (reading.machine)
    add("balance grade", reading.machine->limits.balance_grade, Look::third);
}

std::optional<report::PolarPlot> polar_plot(const CoatReading& reading) {
  const tach::Analysis& a = *reading.jitter;
  if (a.figure.axes != tach::Axes::both || !a.figure.phase)
    return std::nullopt;
  const OntoFace face = onto_face(a);
  report::PolarPlot plot;
  plot.title = face.unit == "mrad" ? "Once per turn, as the marks see it" : "Unbalance";
  plot.unit = face.unit;
  if (reading.machine)
    plot.clockwise = reading.machine->direction == machine::Direction::clockwise;
  const Complex v = face(a.figure.vector);
  plot.vectors = {{face.unit == "mrad" ? "lateness" : "heavy side", std::abs(v),
                   balance::wrapped(radians(std::arg(v))), ellipse_of(a.figure.covariance, face),
                   report::Look::heavy}};
  plot.points_name = "parts of the run";
  for (const tach::BlockFigure& block : a.blocks) {
    const Complex at = face(block.vector);
    plot.points.push_back({std::abs(at), radians(std::arg(at))});
  }
  add_limits(plot, reading, face);
  return plot;
}

void add_response(report::Section& section, const tach::Analysis& a) {
  if (!a.run_up)
    return;
  const tach::RunUp& fit = *a.run_up;
  const auto charts = report::response_charts(points_of(a, fit.pattern), [&](Speed speed) {
    const tach::FittingMount& best = fit.fitting.front(); // its line; whirl_at has its spread too
    const tach::OnceVector v = tach::steady_whirl(best, speed);
    return report::Response{v.amplitude(), v.phase()};
  });
  section.facts.push_back(
      {fit.mount.found ? "Mount, as seen" : "Mount, best guess",
       number_text(fit.mount.natural.Hz()) + " Hz, damping " + number_text(fit.mount.damping)});
  section.drawings.push_back(draw(charts.amplitude));
  section.drawings.push_back(draw(charts.phase));
}

Duration end_of(const CoatReading& reading) {
  Duration end;
  if (!reading.run.empty())
    end = reading.run.back().at;
  for (const tach::TracePoint& p : reading.jitter->trace)
    end = std::max(end, p.at);
  return end;
}

} // namespace

report::Headline vibration_headline(const notebook::Coat& coat, const CoatReading& reading) {
  const tach::Judgement judgement = judgement_of(coat, reading);
  std::string sentence = judgement.reason;
  if (!judgement.add.empty())
    sentence += ". To find out: " + judgement.add;
  if (coat.end && !coat.end->verdict.empty() && coat.end->verdict != tach::word(judgement.verdict))
    sentence += ". The log says " + coat.end->verdict + ", as an earlier program judged it.";
  return {tone_of(judgement.verdict), "Vibration", spoken(judgement.verdict), sentence};
}

std::optional<report::Section> vibration_section(const CoatReading& reading) {
  if (!reading.jitter)
    return std::nullopt;
  const tach::Analysis& a = *reading.jitter;
  report::Section section{"Vibration", {}, {}, {}};
  add_figures(section, a);
  for (const tach::Finding& finding : a.findings)
    section.lines.push_back(finding.shows + ": " + finding.next);
  const tach::OnceVector pattern = a.pattern.value_or(tach::OnceVector{});
  section.drawings.push_back(draw(report::jitter_chart(
      points_of(a, pattern),
      {reading.spinner.limits.watch_angle, reading.spinner.limits.stop_angle}, end_of(reading))));
  if (const auto plot = polar_plot(reading))
    section.drawings.push_back(draw(*plot));
  add_response(section, a);
  return section;
}

} // namespace whirler::cli
