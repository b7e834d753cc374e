#include "note_rows.hpp"

namespace whirler::notebook {

Outcome insert_note(Database& database, const Note& note) {
  // No coat is number 0, which stands for none here and becomes NULL in the row.
  auto insert = database.prepare("INSERT INTO notes (at_ms, kind, board, coat, resist, document) "
                                 "VALUES (?, ?, ?, nullif(?, 0), ?, ?)");
  if (!insert)
    return insert.fault();
  insert->bind(note.at.unix_ms).bind(note.kind).bind(note.board).bind(note.coat.value_or(0));
  return insert->bind(note.resist).bind(note.document).run();
}

Result<std::vector<Note>> read_notes(Database& database, const NoteFilter& filter) {
  auto select = database.prepare(
      "SELECT at_ms, kind, board, coat, resist, document FROM notes WHERE (?1 = '' OR kind = ?1) "
      "AND (?2 = '' OR board = ?2) AND (?3 = '' OR resist = ?3) AND (?4 = 0 OR coat = ?4) "
      "ORDER BY number");
  if (!select)
    return select.fault();
  select->bind(filter.kind).bind(filter.board).bind(filter.resist);
  select->bind(filter.coat.value_or(0));
  std::vector<Note> notes;
  for (;;) {
    const auto row = select->step();
    if (!row)
      return row.fault();
    if (!*row)
      return notes;
    Note note{{select->integer(0)}, select->text(1), select->text(2),
              std::nullopt,         select->text(4), select->text(5)};
    if (!select->is_null(3))
      note.coat = select->integer(3);
    notes.push_back(std::move(note));
  }
}

} // namespace whirler::notebook
