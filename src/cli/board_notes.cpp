#include "board_notes.hpp"
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

std::string age_text(std::int64_t ms) {
  const std::int64_t s = std::max<std::int64_t>(0, ms / 1000);
  if (s < 60)
    return std::to_string(s) + " s";
  if (s < 3600)
    return std::to_string(s / 60) + " min";
  if (s < 86400)
    return std::to_string(s / 3600) + " h " + std::to_string(s % 3600 / 60) + " min";
  return std::to_string(s / 86400) + " d " + std::to_string(s % 86400 / 3600) + " h";
}

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
    const auto notes = notebook_.notes({.coat = line.number});
    if (const Fate fate = notes ? fate_of(*notes) : Fate::lies;
        fate == Fate::washed_off || fate == Fate::cancelled)
      continue;
    const std::string how = line.state == notebook::CoatState::finished
                                ? (completed(line) ? "coated" : "run, ended early,")
                                : notebook::state_word(line.state);
    said.push_back((line.side.empty() ? board_ : line.side) + ": " + how + " " +
                   age_text(now.unix_ms - line.started.unix_ms) + " ago (coat " +
                   std::to_string(line.number) + ")");
  }
  return said;
}

} // namespace whirler::cli
