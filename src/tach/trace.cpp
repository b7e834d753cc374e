#include "trace.hpp"

#include "elimination.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr std::size_t kMostPoints = 300;
constexpr std::size_t kFewestPoints = 60;
constexpr std::size_t kPointTurns = 8;

std::optional<TracePoint> point_of(const Survey& survey, const Survey::Part& part, std::size_t from,
                                   double origin_s, Course course) {
  const TurnBasis& basis = *survey.basis;
  const std::size_t to = from + kPointTurns;
  const TurnRows rows = turn_rows(basis, part.slots, survey.marked.tick, from, to, course);
  Elimination fit(basis, 0);
  for (std::size_t i = 0; i < rows.turns(); ++i)
    fit.add_turn(rows.turn(i), rows.speed[i] / rows.speed[0], rows.slope[i]);
  const BorderNormal normal = fit.border();
  const BorderSolution s = solve(normal);
  if (!s.solvable)
    return std::nullopt;
  const double freedom = std::max(1.0, normal.observations - static_cast<double>(normal.size));
  const double scale = 1.0 / basis.order_one_scale;
  const TurnBegins begins = part.begins();
  TracePoint out;
  out.at = seconds(origin_s + 0.5 * (begins[from] + begins[to]));
  out.speed = rad_per_s(2.0 * std::numbers::pi * static_cast<double>(kPointTurns) /
                        (begins[to] - begins[from]));
  out.vector = {radians(s.value[0] * scale), radians(basis.marks > 2 ? s.value[1] * scale : 0.0)};
  out.spread = radians(std::sqrt(s.covariance(0, 0) * s.rss / freedom) * scale);
  return out;
}

} // namespace

std::vector<TracePoint> trace_of(const Survey& survey) {
  std::vector<TracePoint> out;
  if (survey.basis->marks < 2 || survey.parts.empty())
    return out;
  std::size_t turns = 0;
  for (const auto& part : survey.parts)
    turns += part.turns();
  // Even in time would pass over a short ramp: every other point is a ramp's, where there is one.
  constexpr std::size_t kMarksInAll = 400000; // in all points together
  const std::size_t points = std::clamp<std::size_t>(
      kMarksInAll / (kPointTurns * survey.basis->marks), kFewestPoints, kMostPoints);
  const std::size_t every = std::max(kPointTurns, turns / points);
  const std::int64_t first =
      survey.parts.front().slots.ticks.empty() ? 0 : survey.parts.front().slots.ticks.front();
  for (const auto& part : survey.parts) {
    if (part.turns() == 0)
      continue;
    const double origin =
        static_cast<double>(part.slots.ticks.front() - first) * survey.marked.tick.s();
    for (std::size_t from = 0; from + kPointTurns <= part.turns();) {
      const bool dwelling =
          std::any_of(part.dwells.begin(), part.dwells.end(),
                      [&](const Dwell& d) { return from >= d.from && from + kPointTurns <= d.to; });
      const Course course = dwelling ? Course::dwell : Course::ramp;
      if (const auto point = point_of(survey, part, from, origin, course))
        out.push_back(*point);
      from += dwelling || out.size() > points ? every : kPointTurns;
    }
  }
  return out;
}

} // namespace whirler::tach
