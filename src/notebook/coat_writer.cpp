#include "whirler/notebook/coat_writer.hpp"

#include "coat_rows.hpp"
#include "pen.hpp"

namespace whirler::notebook {
namespace {

const Duration kKeepEvery = seconds(0.5); ///< half of what is promised, so that a late call is fine

Fault of_a_run(Fault fault) {
  fault.kind = FaultKind::ended_early;
  return fault;
}

} // namespace

CoatWriter::Pen::Pen(std::unique_ptr<Database> database, RunningLock lock, std::int64_t number,
                     int marks_per_turn)
    : database_(std::move(database)), lock_(std::move(lock)), number_(number),
      marks_per_turn_(marks_per_turn) {}

CoatWriter::Pen::~Pen() {
  if (!fault_)
    (void)keep(last_, nullptr); // what still can be kept; nobody is left to be told
}

void CoatWriter::Pen::add_pulses(std::span<const std::int64_t> ticks,
                                 std::span<const std::int16_t> marks, std::uint64_t lost_before) {
  if (lost_before > 0)
    pulses_.gaps.push_back({pulses_.ticks.size(), lost_before});
  // Marks stand for all pulses of a chunk or for none.
  if (!marks.empty() || !pulses_.marks.empty())
    pulses_.marks.resize(pulses_.ticks.size(), -1);
  pulses_.ticks.insert(pulses_.ticks.end(), ticks.begin(), ticks.end());
  pulses_.marks.insert(pulses_.marks.end(), marks.begin(), marks.end());
  if (!pulses_.marks.empty())
    pulses_.marks.resize(pulses_.ticks.size(), -1);
}

Outcome CoatWriter::Pen::write_waiting(const CoatEnd* end) {
  const bool pulses = !pulses_.ticks.empty() || !pulses_.gaps.empty();
  if (pulses)
    if (const Outcome kept =
            insert_pulses(*database_, number_, pulse_seq_, pack(pulses_, marks_per_turn_));
        !kept)
      return kept;
  if (!samples_.empty())
    if (const Outcome kept = insert_samples(*database_, number_, sample_seq_, pack(samples_));
        !kept)
      return kept;
  std::int64_t seq = event_seq_;
  for (const Event& event : events_)
    if (const Outcome kept = insert_event(*database_, number_, seq++, event); !kept)
      return kept;
  return end == nullptr ? Outcome(Done{}) : write_end(*database_, number_, *end);
}

Outcome CoatWriter::Pen::keep_in_one(const CoatEnd* end) {
  auto transaction = Transaction::begin(*database_);
  if (!transaction)
    return transaction.fault();
  if (const Outcome written = write_waiting(end); !written)
    return written;
  return transaction->commit();
}

Outcome CoatWriter::Pen::keep(Duration now, const CoatEnd* end) {
  if (fault_)
    return *fault_;
  last_ = now;
  if (end == nullptr && pulses_.ticks.empty() && pulses_.gaps.empty() && samples_.empty() &&
      events_.empty())
    return Done{};
  if (const Outcome kept = keep_in_one(end); !kept) {
    fault_ = of_a_run(kept.fault());
    return *fault_;
  }
  ++pulse_seq_; // numbers may be left out, their order is what counts
  ++sample_seq_;
  event_seq_ += static_cast<std::int64_t>(events_.size());
  pulses_ = {};
  samples_.clear();
  events_.clear();
  return Done{};
}

Outcome CoatWriter::Pen::keep_if_due(Duration now) {
  if (fault_)
    return *fault_;
  const bool backwards = now < last_; // a caller's mistake; never a reason to keep nothing
  if (now - last_ >= kKeepEvery || backwards)
    return keep(now, nullptr);
  return Done{};
}

CoatWriter::CoatWriter(std::unique_ptr<Pen> pen) : pen_(std::move(pen)) {}
CoatWriter::~CoatWriter() = default;
CoatWriter::CoatWriter(CoatWriter&&) noexcept = default;
CoatWriter& CoatWriter::operator=(CoatWriter&&) noexcept = default;

std::int64_t CoatWriter::number() const { return pen_->number_; }

Outcome CoatWriter::pulses(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks,
                           std::uint64_t lost_before, Duration now) {
  if (!marks.empty() && marks.size() != ticks.size())
    return Fault{FaultKind::program, "marks and ticks differ in number", "notebook",
                 "please report it"};
  pen_->add_pulses(ticks, marks, lost_before);
  return pen_->keep_if_due(now);
}

Outcome CoatWriter::sample(const Sample& sample, Duration now) {
  pen_->samples_.push_back(sample);
  return pen_->keep_if_due(now);
}

Outcome CoatWriter::event(const Event& event, Duration now) {
  pen_->events_.push_back(event);
  return pen_->keep(now, nullptr);
}

Outcome CoatWriter::flush(Duration now) { return pen_->keep(now, nullptr); }

Outcome CoatWriter::finish(const CoatEnd& end, Duration now) {
  const Outcome kept = pen_->keep(now, &end);
  if (!kept)
    return kept;
  pen_->fault_ =
      Fault{FaultKind::program, "the coat has already ended", "notebook", "please report it"};
  pen_->lock_ = RunningLock();
  return Done{};
}

} // namespace whirler::notebook
