// A run's record in the notebook, written by a thread of its own: a commit waits for the disk, and
// the loop that feeds the dead-man may not.
//
// Reports and pulses come fifty times a second, and to wake a thread costs as much as to write a
// hundred pulses. So they are gathered and handed over five times a second; with the half second
// between two commits that is still within the second that the notebook promises. What happened (an
// event, the end) is handed over at once, with all that was gathered before it.
#pragma once

#include "whirler/notebook/notebook.hpp"
#include "whirler/session/record.hpp"
#include "whirler/session/side_thread.hpp"

#include <chrono>
#include <functional>
#include <mutex>
#include <string>
#include <vector>

namespace whirler::session {

/// What goes into the coat's end beside the summary: the verdict's word, and a JSON document.
struct Closing {
  std::string verdict;
  std::string document;
};

class NotebookRecord final : public Record {
 public:
  using WallTime = std::chrono::steady_clock::time_point;
  /// `closing` is asked once, when the run is over and all but its end is on disk. `clock` tells
  /// how long a disk has not kept up; the run's own time does not, a simulated one may be hurried.
  NotebookRecord(notebook::CoatWriter writer, std::function<Closing(const Summary&)> closing,
                 std::function<WallTime()> clock = std::chrono::steady_clock::now);
  /// Without `finish` what was gathered is still written, and the coat stays broken off.
  ~NotebookRecord() override;
  NotebookRecord(const NotebookRecord&) = delete;
  NotebookRecord& operator=(const NotebookRecord&) = delete;

  void report(const drive::Report& report, Speed speed, Duration now) override;
  void pulses(const drive::PulseBatch& batch) override;
  void event(const std::string& text, Duration now) override;
  [[nodiscard]] Outcome finish(const Summary& summary) override;
  [[nodiscard]] std::optional<Fault> fault() const override;
  [[nodiscard]] std::int64_t number() const override { return number_; }
  /// How often the thread was given something.
  [[nodiscard]] std::size_t handed_over() const { return handed_over_; }

 private:
  using Work = std::vector<std::function<Outcome()>>;
  void gather(std::function<Outcome()> work);
  [[nodiscard]] bool does_not_keep_up();
  void hand_over();
  void hand_over_if_due();
  void write(const Work& work);

  notebook::CoatWriter writer_; ///< used by the side thread only
  std::function<Closing(const Summary&)> closing_;
  std::function<WallTime()> clock_;
  std::int64_t number_;
  Duration now_; ///< of the last call that told it
  Duration next_sample_;
  Duration next_hand_over_;
  std::optional<WallTime> behind_since_;
  Work gathered_;
  std::size_t handed_over_ = 0;
  mutable std::mutex mutex_;
  std::optional<Fault> fault_; ///< guarded by mutex_
  SideThread thread_;          // last: ends before what it writes with
};

} // namespace whirler::session
