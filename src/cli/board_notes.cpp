#include "board_notes.hpp"
#include "lying.hpp"
#include "one_line.hpp"

#include "pour_record.hpp"
#include "run_job.hpp"
#include "whirler/run/state_machine.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

bool completed(const notebook::CoatLine& line) {
  return run::ending_from_word(line.outcome) == run::Ending::completed;
}

} // namespace

Outcome BoardNotes::keep(const std::string& kind, Json document, std::optional<std::int64_t> coat) {
  notebook::Note note;
  note.at = wall_clock();
  note.kind = kind;
  note.board = board_;
  note.resist = resist_;
  note.coat = coat;
  note.document = one_line(document);
  return notebook_.add_note(note);
}

std::vector<std::string> BoardNotes::lying(notebook::Instant now, bool simulated) const {
  notebook::Filter filter;
  filter.board = board_;
  const auto lines = notebook_.log(filter);
  std::vector<std::string> said;
  if (!lines)
    return said; // the notebook says why when the run is to be kept
  std::vector<std::string> sides;
  for (const notebook::CoatLine& line : *lines) {
    if (line.board != board_ || line.simulated != simulated ||
        std::count(sides.begin(), sides.end(), line.side) > 0)
      continue; // the filter takes parts of names; the newest coat of a side comes first
    sides.push_back(line.side);
    if (line.fate == fate_kind(Fate::washed_off) || line.fate == fate_kind(Fate::cancelled))
      continue;
    const std::string how = line.state == notebook::CoatState::finished
                                ? (completed(line) ? "coated" : "run, ended early,")
                                : notebook::state_word(line.state);
    said.push_back((line.side.empty() ? board_ : line.side) + ": " + how + " " +
                   age_text(since(line.started, now)) + " ago (coat " +
                   std::to_string(line.number) + ")");
  }
  return said;
}

} // namespace whirler::cli
