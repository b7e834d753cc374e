#include "whirler/tach/marked_pulses.hpp"

#include "slot_filler.hpp"
#include "whirler/units/text.hpp"
#include "whole_rows.hpp"

#include <algorithm>
#include <cstdlib>
#include <optional>
#include <span>
#include <string>

namespace whirler::tach {
namespace {

/// Beyond it nineteen times a difference of two would no longer fit (slot_filler.cpp).
constexpr std::int64_t kLargestTick = std::int64_t{1} << 57U;
/// So many turns in a row must agree before the count of marks is taken to have slipped.
constexpr std::size_t kSlipTurns = 3;

Fault unusable(std::string what, std::string next) {
  return input_fault(std::move(what), "tach pulses", std::move(next));
}

std::optional<Fault> fault_of_input(const PulseTrain& pulses, int marks) {
  if (marks < 1 || marks > kMostMarks)
    return unusable(std::to_string(marks) + " marks a turn", "give 1 to 1024");
  if (!(pulses.tick.s() > 0.0) || !pulses.tick.is_finite())
    return unusable("the tick has no length", "give the timer's tick, such as 0.5us");
  if (!pulses.marks.empty() && pulses.marks.size() != pulses.ticks.size())
    return unusable("not every pulse has a mark number", "give one a pulse, or none");
  for (const std::int64_t tick : pulses.ticks)
    if (std::abs(tick) > kLargestTick || tick == kHole)
      return unusable("a time stamp is beyond 2^57 ticks", "check the timer's width and tick");
  for (const std::int16_t mark : pulses.marks)
    if (mark < -1 || mark >= marks)
      return unusable("mark number " + std::to_string(mark) + " of " + std::to_string(marks) +
                          " marks a turn",
                      "number the marks 0 to " + std::to_string(marks - 1) + ", 0 the index");
  return std::nullopt;
}

/// A counter that wrapped, read as if it never did: every step back is nearly its whole round.
std::optional<Fault> wrapped_counter(const PulseTrain& pulses) {
  const auto& ticks = pulses.ticks;
  if (pulses.wraps > 0 || std::is_sorted(ticks.begin(), ticks.end()))
    return std::nullopt;
  const auto [least, most] = std::minmax_element(ticks.begin(), ticks.end());
  std::int64_t shortest = std::numeric_limits<std::int64_t>::max();
  std::size_t times = 0;
  for (std::size_t i = 1; i < ticks.size(); ++i)
    if (ticks[i] < ticks[i - 1]) {
      shortest = std::min(shortest, ticks[i - 1] - ticks[i]);
      ++times;
    }
  for (const int bits : {8, 12, 16, 20, 24, 28, 32, 48}) {
    const std::int64_t round = std::int64_t{1} << bits;
    if (*least < 0 || *most >= round || *most < round / 4 * 3 || shortest < round / 2)
      continue;
    return unusable("the ticks fall back " + std::to_string(times) +
                        (times == 1 ? " time" : " times") + " by nearly " + std::to_string(round) +
                        ", as a counter of " + std::to_string(bits) + " bits does that wrapped",
                    "give --tick-bits " + std::to_string(bits));
  }
  return std::nullopt;
}

/// A slot that a mark number places: it says that the slot `residue` of each turn is mark 0.
struct Sighting {
  std::size_t slot;
  std::size_t residue;
};

/// From the index marks alone where they are numbered: a source that counts on from the index is
/// wrong about every mark between a missed pulse and the next index.
std::vector<Sighting> sightings(const SlotFiller::Filled& filled, std::size_t per_turn) {
  std::vector<Sighting> seen;
  for (std::size_t slot = 0; slot < filled.marks.size(); ++slot)
    if (filled.marks[slot] == 0)
      seen.push_back({slot, slot % per_turn});
  if (!seen.empty())
    return seen;
  for (std::size_t slot = 0; slot < filled.marks.size(); ++slot)
    if (filled.marks[slot] > 0) {
      const auto mark = static_cast<std::size_t>(filled.marks[slot]);
      seen.push_back({slot, (slot + per_turn - mark % per_turn) % per_turn});
    }
  return seen;
}

/// A run of slots in which the mark numbers place mark 0 the same way.
struct Piece {
  std::size_t from;
  std::size_t to;
  std::size_t residue;
  std::size_t agreeing = 0;
};

bool agrees_from(const std::vector<Sighting>& seen, std::size_t at) {
  if (at + kSlipTurns > seen.size())
    return false;
  for (std::size_t i = at + 1; i < at + kSlipTurns; ++i)
    if (seen[i].residue != seen[at].residue)
      return false;
  return true;
}

std::vector<Piece> pieces_of(const std::vector<Sighting>& seen, std::size_t slots) {
  std::vector<Piece> pieces;
  std::size_t last_good = 0;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    if (!pieces.empty() && seen[i].residue == pieces.back().residue) {
      ++pieces.back().agreeing;
      last_good = seen[i].slot;
    } else if (agrees_from(seen, i) || (pieces.empty() && seen.size() < kSlipTurns)) {
      // The slip was somewhere since the last sighting that agreed: what lies between is given up.
      if (!pieces.empty())
        pieces.back().to = last_good + 1;
      pieces.push_back({pieces.empty() ? 0 : seen[i].slot, slots, seen[i].residue, 1});
      last_good = seen[i].slot;
    }
  }
  return pieces;
}

/// The commonest distance between index marks, in slots.
std::size_t index_spacing(const std::vector<Sighting>& seen) {
  std::vector<std::size_t> gaps;
  for (std::size_t i = 1; i < seen.size(); ++i)
    gaps.push_back(seen[i].slot - seen[i - 1].slot);
  if (gaps.empty())
    return 0;
  std::nth_element(gaps.begin(), gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2),
                   gaps.end());
  return gaps[gaps.size() / 2];
}

Fault contradiction(const std::vector<Sighting>& seen, std::size_t per_turn) {
  const std::size_t spacing = index_spacing(seen);
  std::string what = "the mark numbers contradict the pulses";
  if (spacing != per_turn && spacing > 0)
    what = "the index comes every " + std::to_string(spacing) + " pulses, not every " +
           std::to_string(per_turn);
  return unusable(what, "check the number of marks a turn, and that no pulses are lost");
}

/// Where mark 0 stands in each turn, if all index marks say the same.
std::optional<std::size_t> agreed_residue(const std::vector<std::int16_t>& marks,
                                          std::size_t per_turn) {
  std::optional<std::size_t> agreed;
  std::size_t at = 0; // slot modulo per_turn
  for (const std::int16_t mark : marks) {
    if (mark == 0 && agreed.value_or(at) != at)
      return std::nullopt;
    if (mark == 0)
      agreed = at;
    at = at + 1 == per_turn ? 0 : at + 1;
  }
  return agreed;
}

/// Cuts what was filled where its mark numbers show a slip, and places mark 0 in each piece.
std::optional<Fault> align(SlotFiller::Filled filled, std::size_t per_turn, MarkedPulses& out) {
  if (const auto residue = agreed_residue(filled.marks, per_turn)) { // the usual case: no slip
    out.stretches.push_back(
        {std::move(filled.ticks), static_cast<int>((per_turn - *residue) % per_turn), true});
    return std::nullopt;
  }
  const auto seen = sightings(filled, per_turn);
  const auto pieces = pieces_of(seen, filled.ticks.size());
  std::size_t agreeing = 0;
  for (const Piece& piece : pieces)
    agreeing += piece.agreeing;
  if (5 * agreeing < 4 * seen.size())
    return contradiction(seen, per_turn);
  for (const Piece& piece : pieces) {
    Stretch stretch;
    stretch.ticks.assign(filled.ticks.begin() + static_cast<std::ptrdiff_t>(piece.from),
                         filled.ticks.begin() + static_cast<std::ptrdiff_t>(piece.to));
    stretch.first_mark =
        static_cast<int>((per_turn + piece.from % per_turn - piece.residue) % per_turn);
    stretch.aligned = true;
    out.stretches.push_back(std::move(stretch));
  }
  out.counts.breaks += pieces.empty() ? 0 : pieces.size() - 1;
  return std::nullopt;
}

std::optional<Fault> too_many_faults(const PulseCounts& counts) {
  const auto allowed = static_cast<std::size_t>(kMostFaults * static_cast<double>(counts.pulses));
  if (counts.faults() <= allowed)
    return std::nullopt;
  return unusable("of " + std::to_string(counts.pulses) + " pulses " +
                      std::to_string(counts.missing) + " are missing, " +
                      std::to_string(counts.doubled) + " too many, " +
                      std::to_string(counts.out_of_order) + " out of order and " +
                      std::to_string(counts.outliers) + " at impossible times: more than " +
                      number_text(100.0 * kMostFaults) + " % is not repaired",
                  "check the sensor's distance, the wiring and the number of marks");
}

/// By the pace of the turns before; where that finds faults, anew from where the pulses themselves
/// tell that none was lost.
SlotFiller::Outcome fill_in_order(std::span<const std::int64_t> ticks,
                                  std::span<const std::int16_t> numbers, std::size_t per_turn) {
  auto by_pace = SlotFiller(ticks, numbers, per_turn).fill();
  const PulseCounts& seen = by_pace.counts;
  if (seen.missing == 0 && seen.doubled == 0 && seen.breaks == 0)
    return by_pace;
  const std::size_t whole = whole_rows(ticks, numbers, per_turn);
  return whole > 0 ? SlotFiller(ticks, numbers, per_turn).fill(whole) : by_pace;
}

/// A train that is in order, as nearly all are, is read where it lies.
SlotFiller::Outcome fill_slots(const PulseTrain& pulses, bool has_index, std::size_t per_turn,
                               PulseCounts& counts) {
  const std::span<const std::int16_t> numbers(pulses.marks);
  if (std::is_sorted(pulses.ticks.begin(), pulses.ticks.end()))
    return fill_in_order(pulses.ticks, has_index ? numbers : numbers.first(0), per_turn);
  auto ticks = pulses.ticks;
  auto marks = has_index ? pulses.marks : std::vector<std::int16_t>{};
  put_in_order(ticks, marks, counts);
  return fill_in_order(ticks, marks, per_turn);
}

} // namespace

Result<MarkedPulses> by_mark(const PulseTrain& pulses, int marks_per_turn) {
  if (auto fault = fault_of_input(pulses, marks_per_turn))
    return *fault;
  if (auto fault = wrapped_counter(pulses))
    return *fault;
  const auto per_turn = static_cast<std::size_t>(marks_per_turn);
  MarkedPulses out;
  out.tick = pulses.tick;
  out.marks_per_turn = marks_per_turn;
  out.has_index = std::any_of(pulses.marks.begin(), pulses.marks.end(),
                              [](std::int16_t mark) { return mark >= 0; }); // -1: not known
  out.counts.pulses = pulses.size();
  out.counts.wrapped = pulses.wraps;
  auto filled = fill_slots(pulses, out.has_index, per_turn, out.counts);
  out.counts.missing = filled.counts.missing;
  out.counts.doubled = filled.counts.doubled;
  out.counts.breaks = filled.counts.breaks;
  if (auto fault = too_many_faults(out.counts))
    return *fault;
  for (auto& part : filled.stretches) {
    if (out.has_index) {
      if (auto fault = align(std::move(part), per_turn, out))
        return *fault;
      continue;
    }
    // Without mark numbers the record's first row is mark 0; after a break nobody knows.
    const bool first = out.stretches.empty();
    const auto mark = static_cast<int>(part.first_row % per_turn);
    out.stretches.push_back({std::move(part.ticks), first ? mark : 0, first});
  }
  return out;
}

} // namespace whirler::tach
