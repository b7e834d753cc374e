#include "guided_runs.hpp"

#include "dwell_reading.hpp"
#include "one_line.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

/// How well a bench repeats itself, beside the noise of its pulses [common practice, no source].
constexpr double kRepeat_mrad = 0.02;

} // namespace

std::string GuidedRuns::next_name() const { return "RUN " + std::to_string(coats_.size() + 1); }

Result<RunReadings> GuidedRuns::measure(const std::string& what,
                                        const std::vector<balance::PlacedMass>& on) {
  const BalanceRecord record{what, on};
  last_ = record;
  RunWords words = words_;
  words.side = balance_side(record);
  words.notes.push_back({kBalanceNote, one_line(balance_document(record))});
  plant::Unknowns unknowns;
  unknowns.seed = words.seed;
  const auto hub = balance::from_kg_m(
      balance::to_kg_m(balance::PlacedUnbalance{unknowns.hub_unbalance, unknowns.hub_heavy_side}) +
      balance::to_kg_m(on));
  unknowns.hub_unbalance = hub.size;
  unknowns.hub_heavy_side = hub.at;
  run_.order.plan.lid_confirmed = words.lid_closed; // asked anew for each run
  ask_for_lid(run_);
  const auto result = perform(context_, run_, words, notebook_, unknowns);
  if (!result)
    return result.fault();
  tell(context_, *result);
  if (result->coat)
    coats_.push_back(*result->coat);
  too_much_ = result->summary && result->summary->ending == run::Ending::imbalance;
  if (run_status(*result) != kDone)
    return why_not(*result, words.side);
  const auto coat = notebook_.coat(coats_.back());
  if (!coat)
    return coat.fault();
  return read(*coat);
}

std::vector<balance::SpeedPair> GuidedRuns::pairs(const RunReadings& before,
                                                  const RunReadings& with_trial) const {
  std::vector<balance::SpeedPair> pairs;
  for (std::size_t k = 0; k < speeds_.size(); ++k)
    pairs.push_back({speeds_[k], before[k].reading, with_trial[k].reading,
                     std::max(before[k].sigma, with_trial[k].sigma)});
  return pairs;
}

Fault GuidedRuns::why_not(const DoneRun& result, const std::string& what) const {
  Fault fault{FaultKind::ended_early, "the run ended early", what,
              "put right what it says, and start the balancing again"};
  if (!result.faults.empty()) {
    fault.kind = result.faults.front().kind;
    fault.what = result.faults.front().what;
    if (!result.faults.front().next.empty())
      fault.next = result.faults.front().next + "; then start the balancing again";
  } else if (too_much_) {
    fault.what = "the watch stopped the run for its unbalance";
    fault.next = "start the balancing again with a lower --speed than " +
                 number_text(result.summary->top_speed.rpm(), 4) +
                 " rpm, or shift the plate first: whirler blank says which way by the drawing";
  } else if (result.summary && result.summary->ending == run::Ending::operator_stop) {
    fault.what = "the run was stopped by hand";
    fault.next = "start the balancing again when ready";
  }
  return fault;
}

Outcome GuidedRuns::tell_next(const std::vector<balance::PlacedMass>& masses) {
  if (list_text(masses) == list_text(last_.next)) // that is kept already
    return Done{};
  BalanceRecord record = last_;
  record.next = masses;
  return keep(record);
}

Outcome GuidedRuns::keep(const BalanceRecord& record) {
  last_ = record;
  return notebook_.add_note({wall_clock(), kBalanceNote, words_.board, coats_.back(), "",
                             one_line(balance_document(record))});
}

Result<RunReadings> GuidedRuns::read(const notebook::Coat& coat) const {
  RunReadings readings;
  for (const Speed speed : speeds_) {
    const auto dwell = dwell_reading(coat.pulses, coat.start.marks_per_turn, speed);
    if (!dwell)
      return dwell.fault();
    const tach::OnceVector v = dwell->vector;
    readings.push_back({balance::from_lateness({v.re.mrad(), v.im.mrad()}),
                        std::hypot(1e3 * std::sqrt(dwell->covariance.largest()), kRepeat_mrad)});
  }
  return readings;
}

} // namespace whirler::cli
