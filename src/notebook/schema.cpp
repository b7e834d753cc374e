#include "schema.hpp"

#include <array>
#include <filesystem>

namespace whirler::notebook {
namespace {

/// "whlr": SQLite's mark of whose file it is.
constexpr std::int64_t kApplication = 0x77686C72;

/// Step i brings schema i to schema i + 1. A step that has been released is never changed.
constexpr std::array<const char*, 4> kSteps{
    R"sql(
CREATE TABLE coats (
  number      INTEGER PRIMARY KEY AUTOINCREMENT,
  uid         TEXT NOT NULL UNIQUE,
  started_ms  INTEGER NOT NULL,
  board       TEXT NOT NULL,
  side        TEXT NOT NULL,
  profile     TEXT NOT NULL,
  machine     TEXT NOT NULL,
  resist      TEXT NOT NULL,
  blank       TEXT NOT NULL,
  simulated   INTEGER NOT NULL,
  driver      TEXT NOT NULL,
  tick_s      REAL NOT NULL,
  marks       INTEGER NOT NULL,
  cautions    TEXT NOT NULL,      -- a JSON array of texts
  outcome     TEXT,               -- NULL: no end was written
  cause       TEXT,
  verdict     TEXT,
  summary     TEXT,
  length_us   INTEGER
);
CREATE TABLE files (              -- each text once, however many coats used it
  id          INTEGER PRIMARY KEY,
  text        TEXT NOT NULL UNIQUE
);
CREATE TABLE coat_files (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  role        TEXT NOT NULL,
  name        TEXT NOT NULL,
  file        INTEGER NOT NULL REFERENCES files(id),
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
CREATE TABLE pulse_chunks (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  data        BLOB NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
CREATE TABLE sample_chunks (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  data        BLOB NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
CREATE TABLE events (
  coat        INTEGER NOT NULL REFERENCES coats(number),
  seq         INTEGER NOT NULL,
  at_us       INTEGER NOT NULL,
  text        TEXT NOT NULL,
  PRIMARY KEY (coat, seq)
) WITHOUT ROWID;
)sql",
    R"sql(
CREATE TABLE notes (
  number      INTEGER PRIMARY KEY AUTOINCREMENT,
  at_ms       INTEGER NOT NULL,
  kind        TEXT NOT NULL,
  board       TEXT NOT NULL,
  coat        INTEGER REFERENCES coats(number), -- NULL: about none
  resist      TEXT NOT NULL,
  document    TEXT NOT NULL                     -- JSON
);
CREATE INDEX notes_of_coat ON notes (coat);
CREATE INDEX notes_of_board ON notes (board);
)sql",
    // For a list of ten thousand coats: the film that a coat's notes speak of stands beside the
    // coat, so that twenty thousand documents need not be read; and all that a line of the log says
    // is in one index, a tenth of the whole rows. A later note takes the place of an earlier one,
    // and a document that is no JSON, or has no thickness above zero there, says nothing.
    R"sql(
ALTER TABLE coats ADD COLUMN wanted_um REAL;
ALTER TABLE coats ADD COLUMN measured_um REAL;
CREATE VIEW thickness_notes AS SELECT number, coat,
  CASE WHEN json_valid(document) THEN CASE
    WHEN json_type(document, '$.wanted_um') IN ('integer', 'real')
     AND json_extract(document, '$.wanted_um') > 0 AND json_extract(document, '$.wanted_um') < 9e999
    THEN json_extract(document, '$.wanted_um') END END AS wanted_um,
  CASE WHEN json_valid(document) THEN CASE
    WHEN json_type(document, '$.measured_um') IN ('integer', 'real')
     AND json_extract(document, '$.measured_um') > 0
     AND json_extract(document, '$.measured_um') < 9e999
    THEN json_extract(document, '$.measured_um') END END AS measured_um
  FROM notes WHERE kind = 'thickness' AND coat IS NOT NULL;
UPDATE coats SET
  wanted_um = (SELECT wanted_um FROM thickness_notes
               WHERE coat = coats.number AND wanted_um IS NOT NULL ORDER BY number DESC LIMIT 1),
  measured_um = (SELECT measured_um FROM thickness_notes
                 WHERE coat = coats.number AND measured_um IS NOT NULL
                 ORDER BY number DESC LIMIT 1);
CREATE TRIGGER thickness_noted AFTER INSERT ON notes
  WHEN NEW.kind = 'thickness' AND NEW.coat IS NOT NULL
BEGIN
  UPDATE coats SET
    wanted_um = coalesce((SELECT wanted_um FROM thickness_notes WHERE number = NEW.number),
                         wanted_um),
    measured_um = coalesce((SELECT measured_um FROM thickness_notes WHERE number = NEW.number),
                           measured_um)
  WHERE number = NEW.coat;
END;
CREATE INDEX log_lines ON coats (number, started_ms, board, side, profile, machine, resist, blank,
                                 simulated, outcome, verdict, wanted_um, measured_um);
)sql",
    // What became of the film stands beside the coat too: the log says how long each plate has been
    // lying, and ten thousand coats' notes are not read for it.
    R"sql(
ALTER TABLE coats ADD COLUMN fate TEXT;
CREATE VIEW fate_notes AS SELECT number, coat, kind FROM notes
  WHERE kind IN ('poured over', 'washed off', 'side cancelled') AND coat IS NOT NULL;
UPDATE coats SET fate =
  (SELECT kind FROM fate_notes WHERE coat = coats.number ORDER BY number DESC LIMIT 1);
CREATE TRIGGER fate_noted AFTER INSERT ON notes
  WHEN NEW.kind IN ('poured over', 'washed off', 'side cancelled') AND NEW.coat IS NOT NULL
BEGIN
  UPDATE coats SET fate = NEW.kind WHERE number = NEW.coat;
END;
DROP INDEX log_lines;
CREATE INDEX log_lines ON coats (number, started_ms, board, side, profile, machine, resist, blank,
                                 simulated, outcome, verdict, wanted_um, measured_um, fate);
)sql",
};

Fault newer(const std::string& path, std::int64_t schema) {
  return input_fault("the notebook was written by a newer program (schema " +
                         std::to_string(schema) + ", this one knows " +
                         std::to_string(kSteps.size()) + ")",
                     path, "update the program, or name another notebook with --notebook");
}

Fault older_and_read_only(const std::string& path, std::int64_t schema) {
  return input_fault("the notebook is an earlier program's (schema " + std::to_string(schema) +
                         ", this one has " + std::to_string(kSteps.size()) +
                         ") and must be brought forward, where it may not be written",
                     path, "copy it to a folder of your own, and name the copy with --notebook");
}

/// The schema's number; a fault where it is not ours or newer than we know.
Result<std::int64_t> schema_of(Database& database) {
  // One statement, so that another program's making of the tables is seen whole or not at all.
  auto head = database.prepare("SELECT (SELECT count(*) FROM sqlite_master), "
                               "(SELECT application_id FROM pragma_application_id), "
                               "(SELECT user_version FROM pragma_user_version)");
  if (!head)
    return head.fault();
  if (const auto row = head->step(); !row)
    return row.fault();
  const std::int64_t tables = head->integer(0);
  const std::int64_t application = head->integer(1);
  const std::int64_t schema = head->integer(2);
  const bool empty = application == 0 && schema == 0 && tables == 0;
  if (!empty && application != kApplication)
    return fault_of(SQLITE_NOTADB, database.path());
  if (schema > static_cast<std::int64_t>(kSteps.size()))
    return newer(database.path(), schema);
  return schema;
}

Outcome bring_forward(Database& database) {
  auto transaction = Transaction::begin(database);
  if (!transaction)
    return transaction.fault();
  const auto schema = schema_of(database); // again: another program may have been first
  if (!schema)
    return schema.fault();
  for (auto step = static_cast<std::size_t>(*schema); step < kSteps.size(); ++step)
    if (const Outcome made = database.run(kSteps[step]); !made)
      return made.fault();
  const std::string mark = "PRAGMA application_id = " + std::to_string(kApplication) +
                           "; PRAGMA user_version = " + std::to_string(kSteps.size());
  if (const Outcome marked = database.run(mark.c_str()); !marked)
    return marked.fault();
  return transaction->commit();
}

/// SQLite's busy time-out does not cover this change, which two programs may make at once.
Outcome use_write_ahead_log(Database& database) {
  constexpr int kPause_ms = 20;
  constexpr int kTries = 100;
  Outcome done = database.run("PRAGMA journal_mode = WAL");
  for (int i = 0; i < kTries && !done && done.fault() == fault_of(SQLITE_BUSY, database.path());
       ++i) {
    sqlite3_sleep(kPause_ms);
    done = database.run("PRAGMA journal_mode = WAL");
  }
  return done;
}

} // namespace

Outcome prepare_tables(Database& database) {
  const auto schema = schema_of(database);
  if (!schema)
    return schema.fault();
  if (database.is_read_only())
    return *schema == static_cast<std::int64_t>(kSteps.size())
               ? Outcome(Done{})
               : older_and_read_only(database.path(), *schema);
  if (const Outcome log = use_write_ahead_log(database); !log)
    return log.fault();
  if (const Outcome safe = database.run("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON");
      !safe)
    return safe.fault();
  if (*schema == static_cast<std::int64_t>(kSteps.size()))
    return Done{};
  return bring_forward(database);
}

} // namespace whirler::notebook
