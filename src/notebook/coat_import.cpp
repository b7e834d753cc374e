#include "coat_import.hpp"

#include "coat_rows.hpp"
#include "note_rows.hpp"
#include "running_lock.hpp"
#include "whirler/notebook/pack.hpp"

#include <algorithm>
#include <functional>

namespace whirler::notebook {
namespace {

/// The pulses of a whole coat in chunks as long as those of a run.
Outcome insert_all_pulses(Database& database, std::int64_t number, const Coat& coat) {
  constexpr std::size_t kChunk = 4096;
  const auto& train = coat.pulses;
  std::size_t gap = 0;
  std::int64_t seq = 0;
  for (std::size_t from = 0; from < train.size() || gap < coat.gaps.size(); from += kChunk) {
    const std::size_t to = std::min(train.size(), from + kChunk);
    PulseChunk chunk;
    for (std::size_t i = from; i < to; ++i)
      chunk.ticks.push_back(train.ticks[i]);
    for (std::size_t i = from; i < to && !train.marks.empty(); ++i)
      chunk.marks.push_back(train.marks[i]);
    for (; gap < coat.gaps.size() && (coat.gaps[gap].before < to || to == train.size()); ++gap)
      chunk.gaps.push_back({coat.gaps[gap].before - from, coat.gaps[gap].lost});
    if (const Outcome kept =
            insert_pulses(database, number, seq++, pack(chunk, coat.start.marks_per_turn));
        !kept)
      return kept;
  }
  return Done{};
}

/// All but start and notes.
Outcome insert_parts(Database& database, std::int64_t number, const Coat& coat) {
  if (const Outcome pulses = insert_all_pulses(database, number, coat); !pulses)
    return pulses;
  if (!coat.samples.empty())
    if (const Outcome samples = insert_samples(database, number, 0, pack(coat.samples)); !samples)
      return samples;
  std::int64_t seq = 0;
  for (const Event& event : coat.events)
    if (const Outcome kept = insert_event(database, number, seq++, event); !kept)
      return kept;
  return coat.end ? write_end(database, number, *coat.end) : Outcome(Done{});
}

Outcome insert_notes(Database& database, std::int64_t number, std::vector<Note> notes) {
  for (Note& note : notes) {
    note.coat = number; // there it had another
    if (const Outcome kept = insert_note(database, note); !kept)
      return kept;
  }
  return Done{};
}

Result<std::int64_t> insert_whole(Database& database, const Coat& coat) {
  const auto number = insert_start(database, coat.uid, coat.start);
  if (!number)
    return number.fault();
  if (const Outcome parts = insert_parts(database, *number, coat); !parts)
    return parts.fault();
  if (const Outcome notes = insert_notes(database, *number, coat.notes); !notes)
    return notes.fault();
  return *number;
}

/// The number of the coat of this uid; 0 for none.
Result<std::int64_t> number_of(Database& database, const std::string& uid) {
  auto find = database.prepare("SELECT number FROM coats WHERE uid = ?");
  if (!find)
    return find.fault();
  const auto row = find->bind(uid).step();
  if (!row)
    return row.fault();
  return *row ? find->integer(0) : 0;
}

template <class T, class Same>
bool begins_with(const std::vector<T>& whole, const std::vector<T>& part, const Same& same) {
  return part.size() <= whole.size() && std::equal(part.begin(), part.end(), whole.begin(), same);
}

template <class T>
bool begins_with(const std::vector<T>& whole, const std::vector<T>& part) {
  return begins_with(whole, part, std::equal_to<>());
}

bool is_same_sample(const Sample& a, const Sample& b) {
  return to_us(a.at) == to_us(b.at) && to_mrpm(a.speed) == to_mrpm(b.speed) &&
         to_mrpm(a.target) == to_mrpm(b.target) && to_us(a.drive_clock) == to_us(b.drive_clock) &&
         to_thousandths(a.command) == to_thousandths(b.command) && a.segment == b.segment;
}

bool is_same_event(const Event& a, const Event& b) {
  return to_us(a.at) == to_us(b.at) && a.text == b.text;
}

bool is_same_end(const CoatEnd& a, const CoatEnd& b) {
  return a.outcome == b.outcome && a.cause == b.cause && a.verdict == b.verdict &&
         a.summary == b.summary && to_us(a.length) == to_us(b.length);
}

/// Marks that are all unknown are the same as none.
bool begins_with_marks(std::vector<std::int16_t> whole, std::vector<std::int16_t> part,
                       std::size_t pulses) {
  whole.resize(std::max(whole.size(), pulses), -1);
  part.resize(pulses, -1);
  return begins_with(whole, part);
}

/// Whether `part` is the beginning of `whole`, or all of it; their notes are another matter.
bool begins_with(const Coat& whole, const Coat& part) {
  return begins_with(whole.pulses.ticks, part.pulses.ticks) &&
         begins_with_marks(whole.pulses.marks, part.pulses.marks, part.pulses.size()) &&
         begins_with(whole.gaps, part.gaps) &&
         begins_with(whole.samples, part.samples, is_same_sample) &&
         begins_with(whole.events, part.events, is_same_event) &&
         (!part.end || (whole.end && is_same_end(*whole.end, *part.end)));
}

/// Those of `notes` that are not among `here`, whichever coat's number they bear.
std::vector<Note> notes_beyond(std::vector<Note> notes, std::vector<Note> here) {
  for (auto* list : {&notes, &here})
    for (Note& note : *list)
      note.coat.reset();
  std::vector<Note> fresh;
  for (const Note& note : notes) {
    const auto known = std::find(here.begin(), here.end(), note);
    if (known == here.end())
      fresh.push_back(note);
    else
      here.erase(known); // said twice is kept twice
  }
  return fresh;
}

Outcome forget_parts(Database& database, std::int64_t number) {
  for (const char* sql :
       {"DELETE FROM pulse_chunks WHERE coat = ?", "DELETE FROM sample_chunks WHERE coat = ?",
        "DELETE FROM events WHERE coat = ?"}) {
    auto forget = database.prepare(sql);
    if (!forget)
      return forget.fault();
    if (const Outcome gone = forget->bind(number).run(); !gone)
      return gone;
  }
  return Done{};
}

Fault refusal(const Database& database, std::int64_t number, const std::string& what,
              const std::string& next) {
  return input_fault("this coat is in the notebook already, as number " + std::to_string(number) +
                         what,
                     database.path(), next);
}

Outcome complete(Database& database, const Coat& here, const Coat& coat) {
  const std::vector<Note> fresh = notes_beyond(coat.notes, here.notes);
  if (begins_with(here, coat) && fresh.empty())
    return refusal(database, here.number, "", "nothing to do");
  if (RunningCoats(database.path()).has(here.number))
    return refusal(database, here.number, ", and still running", "wait until it has ended");
  if (begins_with(here, coat))
    return insert_notes(database, here.number, fresh);
  if (!begins_with(coat, here))
    return refusal(database, here.number, ", and what is there is not the beginning of this",
                   "import it into another notebook, and compare the two");
  if (const Outcome gone = forget_parts(database, here.number); !gone)
    return gone;
  if (const Outcome parts = insert_parts(database, here.number, coat); !parts)
    return parts;
  return insert_notes(database, here.number, fresh);
}

} // namespace

Result<std::int64_t> insert_or_complete(Database& database, const Coat& coat) {
  const auto number = number_of(database, coat.uid);
  if (!number)
    return number.fault();
  if (*number == 0)
    return insert_whole(database, coat);
  const auto here = read_coat(database, *number);
  if (!here)
    return here.fault();
  if (const Outcome completed = complete(database, *here, coat); !completed)
    return completed.fault();
  return *number;
}

} // namespace whirler::notebook
