#include "board_notes.hpp"

#include "one_line.hpp"
#include "run_job.hpp"

namespace whirler::cli {

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

} // namespace whirler::cli
