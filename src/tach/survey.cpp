#include "survey.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace whirler::tach {
namespace {

constexpr double kSameSpeed = 0.04;

Survey::Part part_of(Stretch stretch, std::size_t marks, Duration tick) {
  Survey::Part part;
  part.marks = marks;
  part.tick = tick;
  part.slots = whole_turns(std::move(stretch), marks);
  part.dwells = find_dwells(part.begins());
  return part;
}

double length_of(const Survey& survey, const Place& place) {
  const TurnBegins begins = survey.parts[place.part].begins();
  return begins[place.dwell.to] - begins[place.dwell.from];
}

std::vector<Place> all_dwells(const Survey& survey) {
  std::vector<Place> out;
  for (std::size_t p = 0; p < survey.parts.size(); ++p)
    for (const Dwell& dwell : survey.parts[p].dwells)
      out.push_back({p, dwell});
  return out;
}

/// Marks whose distances differ too much from one to the next cannot be counted.
Fault too_few_turns(const PulseTrain& pulses, std::size_t longest, int marks) {
  const std::string turns = "only " + std::to_string(longest) + " whole turns in one piece";
  if (pulses.size() < (kLeastTurns + 1) * static_cast<std::size_t>(marks))
    return input_fault(turns, "tach pulses",
                       "record 4 turns or more, and check the number of marks a turn");
  double change = 0.0;
  for (std::size_t i = 0; i + 2 < pulses.size(); ++i) {
    const auto one = static_cast<double>(pulses.ticks[i + 1] - pulses.ticks[i]);
    const auto next = static_cast<double>(pulses.ticks[i + 2] - pulses.ticks[i + 1]);
    change += std::pow(2.0 * (next - one) / std::max(1.0, next + one), 2) /
              static_cast<double>(pulses.size() - 2);
  }
  return input_fault(turns + ": the marks cannot be counted, with intervals that differ by " +
                         number_text(100.0 * std::sqrt(change), 2) +
                         " % rms from one mark to the next",
                     "tach pulses",
                     "check the number of marks a turn (" + std::to_string(marks) +
                         "), the sensor's distance, and how evenly the marks stand");
}

} // namespace

Result<Survey> survey_of(const PulseTrain& pulses, int marks_per_turn) {
  auto marked = by_mark(pulses, marks_per_turn);
  if (!marked)
    return marked.fault();
  Survey out;
  out.marked = std::move(marked).value();
  const auto marks = static_cast<std::size_t>(marks_per_turn);
  out.basis = std::make_shared<const TurnBasis>(marks);
  std::size_t longest = 0;
  for (Stretch& stretch : out.marked.stretches) {
    const bool aligned = stretch.aligned;
    out.parts.push_back(part_of(std::move(stretch), marks, pulses.tick));
    out.parts.back().aligned = aligned;
    longest = std::max(longest, out.parts.back().turns());
  }
  out.marked.stretches.clear(); // their ticks are the parts' now: a long record is not kept twice
  if (longest < kLeastTurns)
    return too_few_turns(pulses, longest, marks_per_turn);
  return out;
}

std::optional<Place> fastest_dwell(const Survey& survey, const Survey* like) {
  auto places = all_dwells(survey);
  if (like != nullptr)
    std::erase_if(places, [&](const Place& p) { return !dwell_at(*like, p.dwell.speed); });
  double longest = 0.0;
  for (const Place& place : places)
    longest = std::max(longest, length_of(survey, place));
  constexpr double kEnough = 1.0; // s
  const double enough = std::min(kEnough, 0.4 * longest);
  std::optional<Place> best;
  for (const Place& place : places) {
    if (length_of(survey, place) < enough)
      continue;
    // Of two at one speed the longer; a percent is no difference.
    const bool faster = best && place.dwell.speed > 1.01 * best->dwell.speed;
    const bool same = best && place.dwell.speed > best->dwell.speed / 1.01;
    if (!best || faster || (same && length_of(survey, place) > length_of(survey, *best)))
      best = place;
  }
  return best;
}

std::optional<Place> dwell_at(const Survey& survey, double speed) {
  std::optional<Place> best;
  for (const Place& place : all_dwells(survey)) {
    const bool near = std::abs(place.dwell.speed - speed) <= kSameSpeed * speed;
    if (near && (!best || length_of(survey, place) > length_of(survey, *best)))
      best = place;
  }
  return best;
}

} // namespace whirler::tach
