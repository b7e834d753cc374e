#include "jitter_answer.hpp"

#include "whirler/blank/properties.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace whirler::cli {
namespace {

using tach::Axes;
using tach::PatternFrom;

Json or_null(bool known, double value) { return known ? Json(value) : Json(nullptr); }

Json vector_json(const tach::OnceVector& v) {
  return {{"amplitude_mrad", v.amplitude().mrad()}, {"phase_deg", v.phase().deg()}};
}

Json once_per_turn(const tach::OrderOne& f) {
  const bool seen = f.axes != Axes::none;
  return {{"amplitude_mrad", or_null(seen, f.amplitude.mrad())},
          {"phase_deg", f.phase ? Json(f.phase->deg()) : Json(nullptr)},
          {"interval_mrad",
           seen ? Json::array({f.interval.low.mrad(), f.interval.high.mrad()}) : Json(nullptr)},
          {"noise_mrad", or_null(seen, f.pulse_noise.mrad())},
          {"p_value", or_null(seen, f.p_value)}};
}

Json pulses_json(const tach::PulseCounts& c) {
  return {{"count", c.pulses},
          {"used", c.used},
          {"missing", c.missing},
          {"doubled", c.doubled},
          {"out_of_order", c.out_of_order},
          {"impossible", c.outliers},
          {"counter_wraps", c.wrapped},
          {"breaks", c.breaks}};
}

Json second_json(const std::optional<tach::SecondMount>& second) {
  if (!second)
    return nullptr;
  return {{"natural_hz", second->natural.Hz()},
          {"damping", second->damping},
          {"far_above_mrad", second->far_above.amplitude().mrad()}};
}

Json mount_json(const tach::RunUp& r) {
  return {{"natural_hz", r.mount.natural.Hz()},
          {"natural_spread", r.mount.natural_spread},
          {"damping", r.mount.damping},
          {"damping_spread", r.mount.damping_spread},
          {"seen", r.mount.found},
          {"far_above_mrad", r.far_above.amplitude().mrad()},
          {"p_growth", r.p_growth},
          {"second", second_json(r.fitting.front().second)},
          {"left_over_mrad",
           or_null(r.left_over.has_value(), r.left_over ? r.left_over->left.mrad() : 0.0)}};
}

bool at_least(const tach::Analysis& a) {
  return tach::is_lower_bound(a.figure.axes, a.pattern_from, a.acceleration.has_value());
}

const char* pattern_word(PatternFrom from) {
  switch (from) {
  case PatternFrom::nothing:
    return "nothing";
  case PatternFrom::baseline:
    return "baseline";
  case PatternFrom::slow_running:
    return "slow_running";
  case PatternFrom::run_up:
    return "run_up";
  }
  return "nothing";
}

} // namespace

std::string spoken(tach::Verdict verdict) {
  std::string word(tach::word(verdict));
  std::replace(word.begin(), word.end(), '_', ' ');
  return word;
}

std::string in_capitals(tach::Verdict verdict) {
  std::string word = spoken(verdict);
  for (char& c : word)
    c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  return word;
}

Json no_tach_json(const std::string& source) {
  return {{"source", source},     {"once_per_turn", nullptr},
          {"speed_rpm", nullptr}, {"verdict", std::string(tach::word(tach::Verdict::cannot_tell))},
          {"reason", kNoTach},    {"pulses", 0}};
}

Json jitter_json(const tach::Analysis& a, const tach::SpinnerModel& model,
                 const std::string& source) {
  Json out{{"source", source},
           {"once_per_turn", once_per_turn(a.figure)},
           {"speed_rpm", a.figure.speed.rpm()},
           {"marks_per_turn", model.marks_per_turn},
           {"turns", a.figure.turns},
           {"pattern_from", pattern_word(a.pattern_from)},
           {"pattern", a.pattern ? vector_json(*a.pattern) : Json(nullptr)}};
  out["acceleration"] =
      a.acceleration
          ? Json{{"amplitude_m_s2", std::abs(a.acceleration->vector_m_s2)},
                 {"phase_deg", radians(std::arg(a.acceleration->vector_m_s2)).deg()},
                 {"interval_m_s2", {a.acceleration->low_m_s2, a.acceleration->high_m_s2}},
                 {"p_value", a.acceleration->p_value},
                 {"turns", a.acceleration->turns},
                 {"turns_left_out", a.acceleration->left_out},
                 {"doubt",
                  a.acceleration->doubt ? Json(a.acceleration->doubt->what) : Json(nullptr)}}
          : Json(nullptr);
  const bool whole = !at_least(a);
  out["velocity_mm_s"] = a.velocity
                             ? Json{{"low", a.velocity->low.mm_per_s()},
                                    {"estimate", or_null(whole, a.velocity->estimate.mm_per_s())},
                                    {"high", or_null(whole, a.velocity->high.mm_per_s())}}
                             : Json(nullptr);
  out["unbalance_g_mm"] = a.unbalance
                              ? Json{{"low", a.unbalance->low.g_mm()},
                                     {"estimate", or_null(whole, a.unbalance->estimate.g_mm())},
                                     {"high", or_null(whole, a.unbalance->high.g_mm())}}
                              : Json(nullptr);
  const auto pull_N = [&a](Unbalance u) { return blank::unbalance_force(u, a.figure.speed).N(); };
  out["force_N"] = a.unbalance ? Json{{"low", pull_N(a.unbalance->low)},
                                      {"estimate", or_null(whole, pull_N(a.unbalance->estimate))},
                                      {"high", or_null(whole, pull_N(a.unbalance->high))}}
                               : Json(nullptr);
  out["heavy_side_deg"] =
      a.unbalance && a.unbalance->heavy_side ? Json(a.unbalance->heavy_side->deg()) : Json(nullptr);
  out["angle_from"] = a.angle_from == tach::AngleFrom::index_mark ? "index_mark" : "first_pulse";
  out["mount"] = a.run_up ? mount_json(*a.run_up) : Json(nullptr);
  out["verdict"] = std::string(tach::word(a.judgement.verdict));
  out["reason"] = a.judgement.reason;
  out["add"] = a.judgement.add;
  out["pulses"] = pulses_json(a.figure.counts);
  Json causes = Json::array();
  for (const auto& finding : a.findings)
    causes.push_back({{"cause", std::string(tach::word(finding.cause))},
                      {"shows", finding.shows},
                      {"next", finding.next}});
  out["causes"] = causes;
  return out;
}

namespace {

std::string figure_line(const tach::OrderOne& f, bool pattern_known) {
  std::string line = "Once per turn: " + number_text(f.amplitude.mrad()) +
                     " mrad (95 %: " + number_text(f.interval.low.mrad()) + " to " +
                     number_text(f.interval.high.mrad()) + ")";
  if (!pattern_known)
    line += ", marks and plate together";
  if (f.phase)
    line += " at " + number_text(f.phase->deg()) + " deg";
  return line + "; chance by noise alone " +
         (f.p_value > 0.0 ? number_text(f.p_value, 2) : "under 1e-300");
}

std::string samples_missing(const tach::AccelerationFigure& figure) {
  if (figure.left_out == 0)
    return {};
  return "; no samples in " + std::to_string(figure.left_out) + " of " +
         std::to_string(figure.left_out + figure.turns) + " turns, which are left out";
}

std::string unbalance_line(const tach::Analysis& a) {
  const tach::UnbalanceFigure& u = *a.unbalance;
  if (at_least(a))
    return "Unbalance: at least " + number_text(u.low.g_mm()) + " g mm";
  std::string line = "Unbalance: " + number_text(u.estimate.g_mm()) + " g mm (" +
                     number_text(u.low.g_mm()) + " to " + number_text(u.high.g_mm()) + "), pulls " +
                     number_text(blank::unbalance_force(u.estimate, a.figure.speed).N()) + " N";
  if (u.heavy_side)
    line += ", heavy side " + number_text(u.heavy_side->deg()) + " deg from the " +
            (a.angle_from == tach::AngleFrom::index_mark ? "index mark" : "first pulse's mark") +
            ", with the rotation";
  return line;
}

} // namespace

std::vector<std::string> jitter_lines(const tach::Analysis& a, const tach::SpinnerModel& model) {
  std::vector<std::string> out;
  out.push_back(in_capitals(a.judgement.verdict) + ": " + a.judgement.reason);
  if (!a.judgement.add.empty())
    out.push_back("To find out: " + a.judgement.add);
  out.push_back("At " + number_text(a.figure.speed.rpm(), 4) + " rpm, " +
                std::to_string(a.figure.turns) + " turns of " +
                std::to_string(model.marks_per_turn) +
                (model.marks_per_turn == 1 ? " mark" : " marks"));
  if (a.figure.axes != Axes::none)
    out.push_back(figure_line(a.figure, a.pattern_from != PatternFrom::nothing));
  if (a.acceleration)
    out.push_back(
        "Accelerometer, once per turn: " + number_text(std::abs(a.acceleration->vector_m_s2)) +
        " m/s2 (95 %: " + number_text(a.acceleration->low_m_s2) + " to " +
        number_text(a.acceleration->high_m_s2) + ")" + samples_missing(*a.acceleration));
  if (a.unbalance)
    out.push_back(unbalance_line(a));
  for (const auto& finding : a.findings)
    out.push_back("- " + finding.shows + ": " + finding.next);
  return out;
}

} // namespace whirler::cli
