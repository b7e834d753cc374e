// What a CoatWriter holds: its own connection, its lock, and what waits for the next commit.
#pragma once

#include "database.hpp"
#include "running_lock.hpp"
#include "whirler/notebook/coat_writer.hpp"
#include "whirler/notebook/pack.hpp"

#include <optional>
#include <vector>

namespace whirler::notebook {

class CoatWriter::Pen {
 public:
  Pen(std::unique_ptr<Database> database, RunningLock lock, std::int64_t number,
      int marks_per_turn);
  ~Pen();
  Pen(const Pen&) = delete;
  Pen& operator=(const Pen&) = delete;

  void add_pulses(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks,
                  std::uint64_t lost_before);
  /// Commits what waits, and the end where there is one.
  [[nodiscard]] Outcome keep(Duration now, const CoatEnd* end);
  [[nodiscard]] Outcome keep_if_due(Duration now);

 private:
  friend class CoatWriter;
  [[nodiscard]] Outcome keep_in_one(const CoatEnd* end);
  [[nodiscard]] Outcome write_waiting(const CoatEnd* end);

  std::unique_ptr<Database> database_;
  RunningLock lock_;
  std::int64_t number_;
  int marks_per_turn_;
  Duration last_; ///< when the last commit was
  PulseChunk pulses_;
  std::vector<Sample> samples_;
  std::vector<Event> events_;
  std::int64_t pulse_seq_ = 0;
  std::int64_t sample_seq_ = 0;
  std::int64_t event_seq_ = 0;
  std::optional<Fault> fault_; ///< the first; the writer is spent
};

} // namespace whirler::notebook
