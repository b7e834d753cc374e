// The workshop's notebook: every coat that was run, in one SQLite file.
//
// Requirements: a coat is on disk up to its last second whatever dies (this program, the computer,
// the mains); two programs may write at once; nothing earlier is ever lost; a notebook of an older
// program is brought forward, one of a newer program is refused and left alone.
//
// So: write-ahead log, since a commit there is one append and a reader never waits for a writer;
// synchronous FULL, since in the write-ahead log NORMAL does not sync a commit and the last seconds
// before a power cut would be gone (one sync a second costs nothing here); pulses and samples in
// chunks of a commit each, never rewritten. `PRAGMA user_version` is the schema's number and
// `application_id` says whose file it is.
//
// Which unfinished coats still run is asked of the kernel, not stored: the writer holds a lock on
// the byte of the coat's number in a file beside the notebook ("-running"), which no death can
// leave behind. Rejected: a process number or a heartbeat in the table, both of which lie after a
// crash.
//
// Rejected: one file a coat (a log over ten thousand of them is ten thousand opens, and a rename is
// needed for every change), and a text log of our own (migrations and two writers would be ours).
#pragma once

#include "whirler/notebook/coat.hpp"
#include "whirler/notebook/coat_writer.hpp"
#include "whirler/notebook/note.hpp"
#include "whirler/units/result.hpp"

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace whirler::notebook {

/// XDG_DATA_HOME/whirler/notebook.db, or ~/.local/share/whirler/notebook.db. Reads the environment.
/// Fault (input): neither XDG_DATA_HOME nor HOME says where.
[[nodiscard]] Result<std::string> default_path();

/// What the log is asked for; an empty text, or no instant, asks for all.
struct Filter {
  std::string resist{}; ///< each: a part of the name, in any case
  std::string board{};
  std::string verdict{};          ///< the whole word
  std::optional<Instant> from{};  ///< started at or after
  std::optional<Instant> until{}; ///< started before
  std::size_t most = 0;           ///< the newest so many; 0: all
};

class Database;

/// Belongs to one thread at a time.
class Notebook {
 public:
  /// Opens the notebook, making it where it is missing, and brings an older schema forward. Its
  /// folder must be there: a name that was mistyped makes no tree of folders. Faults (input): no
  /// such folder, not a notebook, newer than this program, damaged, read-only, in use for longer
  /// than 2 s.
  [[nodiscard]] static Result<Notebook> open(const std::string& path);
  /// The one at `default_path`, whose folders are made too.
  [[nodiscard]] static Result<Notebook> open_default();
  /// Opens one that is there; a fault (input) where it is not.
  [[nodiscard]] static Result<Notebook> open_existing(const std::string& path);
  /// The same to read from alone: also where file, folder or disk are read-only. Fault (input): it
  /// must be brought forward there, or has a log that cannot be read there.
  [[nodiscard]] static Result<Notebook> open_to_read(const std::string& path);
  ~Notebook();
  Notebook(Notebook&&) noexcept;
  Notebook& operator=(Notebook&&) noexcept;

  /// Opens a coat: its start is on disk when this returns. The writer has a connection of its own
  /// and may be moved to another thread. Faults (input): disk full, read-only, in use.
  [[nodiscard]] Result<CoatWriter> begin_coat(const CoatStart& start);

  /// Each line of the log in turn, the newest first; the line is good during the call.
  [[nodiscard]] Outcome each_line(const Filter& filter,
                                  const std::function<void(const CoatLine&)>& visit);
  /// The same in one list.
  [[nodiscard]] Result<std::vector<CoatLine>> log(const Filter& filter = {});
  /// A whole coat. Fault (input): there is no such number; a chunk is damaged.
  [[nodiscard]] Result<Coat> coat(std::int64_t number);
  /// The number of the newest coat. Fault (input): there is none.
  [[nodiscard]] Result<std::int64_t> newest();
  /// Keeps a note; on disk when this returns. Faults (input): no such coat, disk full, read-only,
  /// in use.
  [[nodiscard]] Outcome add_note(const Note& note);
  /// Notes in the order in which they were made.
  [[nodiscard]] Result<std::vector<Note>> notes(const NoteFilter& filter = {});
  /// Stores a coat from another notebook, or completes the same one where it is here in part, all
  /// or nothing; gives its number here, which the latter keeps. Faults (input): it is here already,
  /// as whole; runs here; is not what is here of it and more; disk full, read-only, in use.
  [[nodiscard]] Result<std::int64_t> add(const Coat& coat);

 private:
  explicit Notebook(std::unique_ptr<Database> database);
  std::unique_ptr<Database> database_;
};

} // namespace whirler::notebook
