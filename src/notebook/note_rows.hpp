// The notes' rows.
#pragma once

#include "database.hpp"
#include "whirler/notebook/note.hpp"

#include <vector>

namespace whirler::notebook {

[[nodiscard]] Outcome insert_note(Database& database, const Note& note);
[[nodiscard]] Result<std::vector<Note>> read_notes(Database& database, const NoteFilter& filter);

} // namespace whirler::notebook
