#include "whirler/session/notebook_record.hpp"

#include <algorithm>
#include <utility>
#include <vector>

namespace whirler::session {
namespace {

/// Reports come fifty a second; so many a second are kept. Speed between them is in the pulses.
const Duration kSampleEvery = milliseconds(100);
const Duration kHandOverEvery = milliseconds(200);
/// What was handed over and waits for a disk that does not take it; some ten seconds' worth. A
/// hurried run makes as much in a blink: it must have waited so long by the clock too.
constexpr std::size_t kLongestBacklog = 50;
constexpr std::chrono::seconds kPatience{2};

} // namespace

NotebookRecord::NotebookRecord(notebook::CoatWriter writer,
                               std::function<Closing(const Summary&)> closing,
                               std::function<WallTime()> clock)
    : writer_(std::move(writer)), closing_(std::move(closing)), clock_(std::move(clock)),
      number_(writer_.number()) {}

NotebookRecord::~NotebookRecord() { hand_over(); }

void NotebookRecord::gather(std::function<Outcome()> work) { gathered_.push_back(std::move(work)); }

bool NotebookRecord::does_not_keep_up() {
  const WallTime now = clock_();
  if (thread_.backlog() <= kLongestBacklog)
    behind_since_.reset();
  else if (!behind_since_)
    behind_since_ = now;
  return behind_since_ && now - *behind_since_ > kPatience;
}

void NotebookRecord::hand_over() {
  next_hand_over_ = now_ + kHandOverEvery;
  if (gathered_.empty())
    return;
  if (does_not_keep_up()) {
    gathered_.clear();
    const std::lock_guard lock(mutex_);
    if (!fault_)
      fault_ = Fault{FaultKind::ended_early, "the disk does not keep up with the record",
                     "notebook", "use a faster disk, or name another notebook"};
    return;
  }
  ++handed_over_;
  thread_.post([this, work = std::exchange(gathered_, {})] { write(work); });
}

void NotebookRecord::hand_over_if_due() {
  if (now_ >= next_hand_over_)
    hand_over();
}

void NotebookRecord::write(const Work& work) {
  for (const auto& entry : work) {
    const auto outcome = entry();
    const std::lock_guard lock(mutex_);
    if (!outcome && !fault_)
      fault_ = outcome.fault();
  }
}

void NotebookRecord::report(const drive::Report& report, Speed speed, Duration now) {
  now_ = now;
  hand_over_if_due();
  if (now < next_sample_)
    return;
  next_sample_ = std::max(next_sample_ + kSampleEvery, now);
  notebook::Sample sample;
  sample.at = now;
  sample.speed = speed;
  sample.target = report.target;
  sample.drive_clock = report.clock;
  sample.command = report.command;
  sample.segment = report.segment ? static_cast<int>(*report.segment) : -1;
  gather([this, sample, now] { return writer_.sample(sample, now); });
}

void NotebookRecord::pulses(const drive::PulseBatch& batch) {
  // The batch's spans are the drive's and good only now: a copy travels.
  std::vector<std::int64_t> ticks(batch.ticks.begin(), batch.ticks.end());
  std::vector<std::int16_t> marks(batch.marks.begin(), batch.marks.end());
  gather([this, ticks = std::move(ticks), marks = std::move(marks), lost = batch.lost_before,
          now = now_] { return writer_.pulses(ticks, marks, lost, now); });
}

void NotebookRecord::event(const std::string& text, Duration now) {
  now_ = now;
  gather([this, text, now] { return writer_.event({now, text}, now); });
  hand_over();
}

Outcome NotebookRecord::finish(const Summary& summary) {
  gather([this, now = now_] { return writer_.flush(now); });
  hand_over();
  thread_.drain(); // the closing may read back what was written
  const auto closing = closing_(summary);
  const notebook::CoatEnd end{std::string(run::word(summary.ending)), summary.cause,
                              closing.verdict, closing.document, summary.length};
  gather([this, end, now = now_] { return writer_.finish(end, now); });
  hand_over();
  thread_.drain();
  if (const auto found = fault())
    return *found;
  return Done{};
}

std::optional<Fault> NotebookRecord::fault() const {
  const std::lock_guard lock(mutex_);
  return fault_;
}

} // namespace whirler::session
