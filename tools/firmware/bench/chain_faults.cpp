#include "chain_faults.hpp"

#include <algorithm>
#include <atomic>
#include <csignal>
#include <cstdio>
#include <thread>

namespace bench {

namespace {

using whirler::link::Latch;

constexpr int kSideBySide = 8;
constexpr double kHeldUpMs = 100.0; ///< that this machine was late: then a host may miss its 250 ms

int status_for(const std::string& outcome) {
  if (outcome == "done")
    return 0;
  if (outcome == "link_lost" || outcome == "refused")
    return 4;
  return outcome.empty() ? 128 + SIGKILL : 5;
}

bool right_outcome(const ChainCase& fault, const ChainOutcome& outcome) {
  const auto& lawful = fault.outcomes;
  const std::string& said = outcome.answer.outcome;
  const bool named =
      lawful.empty() ? said.empty() : std::find(lawful.begin(), lawful.end(), said) != lawful.end();
  return named && outcome.status == status_for(said);
}

/// The wait for the host, then what the driver says to the next one that greets it.
void finish(Chain& chain, const ChainCase& fault, ChainOutcome& outcome) {
  if (const auto status = chain.until_ended())
    outcome.status = *status;
  outcome.answer = chain.answer();
  outcome.stayed_off &= !chain.enabled();
  if (const auto report = chain.stand.greet_past_terminal())
    outcome.latch = report->latch;
  const auto& lawful = fault.latches;
  const bool named = lawful.empty()
                         ? outcome.latch == Latch::none
                         : std::find(lawful.begin(), lawful.end(), outcome.latch) != lawful.end();
  outcome.right_words = named && right_outcome(fault, outcome);
  outcome.top_rpm = chain.top_rpm();
  outcome.late_ms = chain.stand.worst_lateness_ms();
}

/// From the fault to the enable's low, in ms; negative: never.
double time_to_off(Chain& chain, const ChainCase& fault) {
  chain.run_for(ms(40));
  const Cycles began = fault.inject(chain);
  const bool off = chain.until_off(ms(8000));
  const auto at = chain.stand.rig.disabled_at();
  if (!off || !at)
    return -1.0;
  return *at > began ? to_ms(*at - began) : 0.0;
}

ChainOutcome blank_outcome(const ChainCase& fault) {
  ChainOutcome outcome;
  outcome.fault = fault.fault;
  outcome.moment = fault.moment;
  outcome.bound_ms = fault.bound_ms;
  outcome.top_allowed_rpm = fault.top_rpm;
  return outcome;
}

ChainOutcome run_once(const std::string& program, const ChainCase& fault) {
  ChainOutcome outcome = blank_outcome(fault);
  Chain chain(program, fault.model, fault.files, fault.damage);
  if (fault.inject && !chain.reach(fault.moment)) {
    outcome.trouble = "never got there: " + chain.host.said();
    outcome.late_ms = chain.stand.worst_lateness_ms();
    return outcome;
  }
  outcome.off_ms = fault.inject ? time_to_off(chain, fault) : 0.0;
  const auto starts = chain.stand.rig.enabled_count();
  if (fault.afterwards)
    fault.afterwards(chain);
  if (fault.inject)
    chain.run_for(ms(250));
  outcome.stayed_off = !fault.inject || !chain.enabled();
  finish(chain, fault, outcome);
  outcome.stayed_off &= !fault.inject || chain.stand.rig.enabled_count() == starts;
  return outcome;
}

ChainOutcome run_case(const std::string& program, const ChainCase& fault) {
  try {
    auto outcome = run_once(program, fault);
    if (!outcome.trouble.empty() && outcome.late_ms > kHeldUpMs) {
      outcome = run_once(program, fault);
      outcome.fault += " (second try)";
    }
    return outcome;
  } catch (const std::exception& trouble) {
    ChainOutcome outcome = blank_outcome(fault);
    outcome.trouble = trouble.what();
    return outcome;
  }
}

} // namespace

std::vector<ChainOutcome> run_chain(const std::string& program,
                                    const std::vector<ChainCase>& cases) {
  std::vector<ChainOutcome> outcomes(cases.size());
  std::atomic<std::size_t> next{0};
  const auto work = [&] {
    for (std::size_t i = next++; i < cases.size(); i = next++)
      outcomes[i] = run_case(program, cases[i]);
  };
  std::vector<std::thread> threads;
  for (int i = 0; i < kSideBySide; ++i)
    threads.emplace_back(work);
  for (auto& thread : threads)
    thread.join();
  return outcomes;
}

bool holds(const ChainOutcome& outcome) {
  return outcome.trouble.empty() && outcome.off_ms >= 0.0 && outcome.off_ms <= outcome.bound_ms &&
         outcome.stayed_off && outcome.right_words && outcome.top_rpm <= outcome.top_allowed_rpm;
}

std::string to_text(const ChainOutcome& outcome) {
  if (!outcome.trouble.empty())
    return outcome.fault + ", " + name(outcome.moment) + ": " + outcome.trouble;
  char time[48] = "          ran to its end";
  if (outcome.bound_ms > 0.0)
    std::snprintf(time, sizeof time, "%8.3f ms (at most %6.1f)", outcome.off_ms, outcome.bound_ms);
  char line[260];
  std::snprintf(line, sizeof line, "%-48s %-12s %-27s  top %4.0f rpm  host: %s, status %d%s; %s",
                outcome.fault.c_str(), name(outcome.moment).c_str(), time, outcome.top_rpm,
                outcome.answer.outcome.empty() ? "killed" : outcome.answer.outcome.c_str(),
                outcome.status, outcome.stayed_off ? "" : "  CAME ON AGAIN",
                whirler::link::to_text(outcome.latch).c_str());
  return line;
}

} // namespace bench
