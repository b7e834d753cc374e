// Writes a coat down while it runs. What is handed over is on disk within a second of `now`, and
// every event at once.
//
//   begin_coat ─> [pulses | sample | event]* ─> finish
//                    └ a commit when 0.5 s have passed since the last ┘
//
// No thread and no clock of its own: the caller says what time it is, and the time of the calls
// drives the commits. A call may wait for the disk (or, up to 2 s, for another program's commit),
// so a run calls from a thread that may wait.
//
// After a failed commit the writer is spent: each later call gives the same fault, and what was
// committed before stays. A writer that is destroyed without `finish` leaves its coat broken off,
// with whatever was not yet committed written if that can still be done.
#pragma once

#include "whirler/notebook/coat.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <memory>
#include <span>
#include <string>

namespace whirler::notebook {

class Database;

class CoatWriter {
 public:
  ~CoatWriter();
  CoatWriter(CoatWriter&&) noexcept;
  CoatWriter& operator=(CoatWriter&&) noexcept;

  /// The coat's number in the notebook.
  [[nodiscard]] std::int64_t number() const;

  /// `marks` is empty or as long as `ticks`; -1 where the drive does not know. `lost_before`: that
  /// many pulses before the first of these were captured but never arrived.
  /// All of these: fault (ended_early) when the record cannot be kept.
  [[nodiscard]] Outcome pulses(std::span<const std::int64_t> ticks,
                               std::span<const std::int16_t> marks, std::uint64_t lost_before,
                               Duration now);
  [[nodiscard]] Outcome sample(const Sample& sample, Duration now);
  [[nodiscard]] Outcome event(const Event& event, Duration now);
  /// Commits what is waiting, whatever the time.
  [[nodiscard]] Outcome flush(Duration now);
  /// Commits what is waiting and the end. The writer is spent afterwards.
  [[nodiscard]] Outcome finish(const CoatEnd& end, Duration now);

 private:
  friend class Notebook;
  class Pen;
  explicit CoatWriter(std::unique_ptr<Pen> pen);
  std::unique_ptr<Pen> pen_;
};

} // namespace whirler::notebook
