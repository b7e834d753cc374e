// A run's record in the notebook, written by a thread of its own: a commit waits for the disk, and
// the loop that feeds the dead-man may not.
#pragma once

#include "whirler/notebook/notebook.hpp"
#include "whirler/session/record.hpp"
#include "whirler/session/side_thread.hpp"

#include <functional>
#include <mutex>
#include <string>

namespace whirler::session {

/// What goes into the coat's end beside the summary: the verdict's word, and a JSON document.
struct Closing {
  std::string verdict;
  std::string document;
};

class NotebookRecord final : public Record {
 public:
  /// `closing` is asked once, when the run is over and all but its end is on disk.
  NotebookRecord(notebook::CoatWriter writer, std::function<Closing(const Summary&)> closing);

  void report(const drive::Report& report, Speed speed, Duration now) override;
  void pulses(const drive::PulseBatch& batch) override;
  void event(const std::string& text, Duration now) override;
  [[nodiscard]] Outcome finish(const Summary& summary) override;
  [[nodiscard]] std::optional<Fault> fault() const override;
  [[nodiscard]] std::int64_t number() const override { return number_; }

 private:
  void write(std::function<Outcome()> work);

  notebook::CoatWriter writer_; ///< used by the side thread only
  std::function<Closing(const Summary&)> closing_;
  std::int64_t number_;
  Duration now_; ///< of the last call that told it
  Duration next_sample_;
  mutable std::mutex mutex_;
  std::optional<Fault> fault_; ///< guarded by mutex_
  SideThread thread_;          // last: ends before what it writes with
};

} // namespace whirler::session
