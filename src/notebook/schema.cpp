#include "schema.hpp"

#include <array>
#include <filesystem>

namespace whirler::notebook {
namespace {

/// "whlr": SQLite's mark of whose file it is.
constexpr std::int64_t kApplication = 0x77686C72;

/// Step i brings schema i to schema i + 1. A step that has been released is never changed.
constexpr std::array<const char*, 2> kSteps{
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
};

Fault newer(const std::string& path, std::int64_t schema) {
  return input_fault("the notebook was written by a newer program (schema " +
                         std::to_string(schema) + ", this one knows " +
                         std::to_string(kSteps.size()) + ")",
                     path, "update the program, or name another notebook with --notebook");
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
