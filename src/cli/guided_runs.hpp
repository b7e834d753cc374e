// The runs of guided balancing: each on the machine, kept in the notebook with the masses that were
// on, read at its dwells.
#pragma once

#include "balance_record.hpp"
#include "run_job.hpp"
#include "whirler/balance/pattern_free.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace whirler::cli {

/// A run's reading at one dwell, mrad, in the convention of masses.
struct DwellReading {
  balance::Reading reading;
  double sigma = 0.0; ///< of either component
};
using RunReadings = std::vector<DwellReading>; ///< one a dwell

class GuidedRuns {
 public:
  /// `speeds`: of the dwells, rising.
  GuidedRuns(const Context& context, RunWords words, LoadedRun run, notebook::Notebook notebook,
             std::vector<Speed> speeds)
      : context_(context), words_(std::move(words)), run_(std::move(run)),
        notebook_(std::move(notebook)), speeds_(std::move(speeds)) {}

  /// One run, called `what`, these masses on. Faults: it was refused or ended early, or holds no
  /// reading of a dwell.
  [[nodiscard]] Result<RunReadings> measure(const std::string& what,
                                            const std::vector<balance::PlacedMass>& on);
  /// Keeps what came of the last run with its coat.
  [[nodiscard]] Outcome keep(const BalanceRecord& record);
  /// Keeps with the last run's coat what its person is told to put on next: whoever comes back
  /// after a power cut is reminded of it.
  [[nodiscard]] Outcome tell_next(const std::vector<balance::PlacedMass>& masses);

  /// The readings of two runs, speed by speed.
  [[nodiscard]] std::vector<balance::SpeedPair> pairs(const RunReadings& before,
                                                      const RunReadings& with_trial) const;
  [[nodiscard]] const std::vector<Speed>& speeds() const { return speeds_; }
  [[nodiscard]] const std::vector<std::int64_t>& coats() const { return coats_; }
  /// "RUN 2"
  [[nodiscard]] std::string next_name() const;
  /// The last run was stopped for its unbalance.
  [[nodiscard]] bool too_much() const { return too_much_; }

 private:
  [[nodiscard]] Result<RunReadings> read(const notebook::Coat& coat) const;
  [[nodiscard]] Fault why_not(const DoneRun& result, const std::string& what) const;

  const Context& context_;
  RunWords words_;
  LoadedRun run_;
  notebook::Notebook notebook_;
  std::vector<Speed> speeds_;
  std::vector<std::int64_t> coats_; ///< the runs, in the notebook
  BalanceRecord last_;              ///< of the last run
  bool too_much_ = false;
};

} // namespace whirler::cli
