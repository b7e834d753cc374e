#include "whirler/notebook/notebook.hpp"

#include "coat_import.hpp"
#include "coat_rows.hpp"
#include "database.hpp"
#include "note_rows.hpp"
#include "pen.hpp"
#include "running_lock.hpp"
#include "schema.hpp"
#include "whirler/notebook/pack.hpp"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <limits>

namespace whirler::notebook {
namespace {

CoatState state_of(bool ended, bool running) {
  if (ended)
    return CoatState::finished;
  return running ? CoatState::running : CoatState::broken_off;
}

Result<std::unique_ptr<Database>> open_ready(const std::string& path, Database::Purpose purpose) {
  auto database = Database::open(path, purpose);
  if (!database)
    return database.fault();
  if (const Outcome ready = prepare_tables(**database); !ready)
    return ready.fault();
  return database;
}

Result<std::unique_ptr<Database>> open_ready_there(const std::string& path,
                                                   Database::Purpose purpose) {
  std::error_code error;
  if (!std::filesystem::exists(path, error))
    return input_fault("there is no notebook here", path,
                       "run a coat first, or name another with --notebook");
  return open_ready(path, purpose);
}

constexpr const char* kSelectLines =
    "SELECT number, started_ms, board, side, profile, machine, resist, blank, simulated, "
    "outcome, verdict, wanted_um, measured_um, fate FROM coats INDEXED BY log_lines "
    "WHERE (?1 = '' OR instr(folded(resist), folded(?1)) > 0) "
    "AND (?2 = '' OR instr(folded(board), folded(?2)) > 0) AND (?3 = '' OR verdict = ?3) "
    "AND started_ms >= ?4 AND started_ms < ?5 ORDER BY number DESC LIMIT ?6";

std::optional<Length> length_of(const Statement& row, int column_um) {
  if (row.is_null(column_um))
    return std::nullopt;
  return micrometres(row.real(column_um));
}

/// All but whether it runs.
CoatLine line_of(const Statement& row) {
  CoatLine line;
  line.number = row.integer(0);
  line.started.unix_ms = row.integer(1);
  line.board = row.text(2);
  line.side = row.text(3);
  line.profile = row.text(4);
  line.machine = row.text(5);
  line.resist = row.text(6);
  line.blank = row.text(7);
  line.simulated = row.integer(8) != 0;
  line.outcome = row.text(9);
  line.verdict = row.text(10);
  line.wanted = length_of(row, 11);
  line.measured = length_of(row, 12);
  line.fate = row.text(13);
  return line;
}

void bind(Statement& select, const Filter& filter) {
  constexpr std::int64_t kEver = std::numeric_limits<std::int64_t>::max();
  select.bind(filter.resist).bind(filter.board).bind(filter.verdict);
  select.bind(filter.from ? filter.from->unix_ms : -kEver);
  select.bind(filter.until ? filter.until->unix_ms : kEver);
  select.bind(filter.most == 0 ? std::int64_t{-1} : static_cast<std::int64_t>(filter.most));
}

/// A fault unless there is a coat of this number.
Outcome require_coat(Database& database, std::int64_t number) {
  auto find = database.prepare("SELECT 1 FROM coats WHERE number = ?");
  if (!find)
    return find.fault();
  const auto row = find->bind(number).step();
  if (!row)
    return row.fault();
  return *row ? Outcome(Done{}) : no_such_coat(database, number);
}

} // namespace

Result<std::string> default_path() {
  const auto from = [](const char* name) {
    const char* value = std::getenv(name);
    return std::filesystem::path(value == nullptr ? "" : value);
  };
  // A relative XDG_DATA_HOME is to be ignored (XDG Base Directory Specification).
  if (const auto data = from("XDG_DATA_HOME"); data.is_absolute())
    return (data / "whirler" / "notebook.db").string();
  if (const auto home = from("HOME"); home.is_absolute())
    return (home / ".local" / "share" / "whirler" / "notebook.db").string();
  return input_fault("neither XDG_DATA_HOME nor HOME says where the notebook is", "",
                     "name it with --notebook");
}

Notebook::Notebook(std::unique_ptr<Database> database) : database_(std::move(database)) {}
Notebook::~Notebook() = default;
Notebook::Notebook(Notebook&&) noexcept = default;
Notebook& Notebook::operator=(Notebook&&) noexcept = default;

Result<Notebook> Notebook::open(const std::string& path) {
  const auto folder = std::filesystem::path(path).parent_path();
  std::error_code error;
  if (!folder.empty() && !std::filesystem::is_directory(folder, error))
    return input_fault("the notebook's folder is not there", folder.string(),
                       "make it, or name another notebook with --notebook");
  auto database = open_ready(path, Database::Purpose::make);
  if (!database)
    return database.fault();
  return Notebook(std::move(*database));
}

Result<Notebook> Notebook::open_default() {
  const auto path = default_path();
  if (!path)
    return path.fault();
  const auto folder = std::filesystem::path(*path).parent_path();
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error)
    return input_fault("the notebook's folder cannot be made (" + error.message() + ")",
                       folder.string(), "check its permissions, or name another with --notebook");
  return open(*path);
}

Result<Notebook> Notebook::open_existing(const std::string& path) {
  auto database = open_ready_there(path, Database::Purpose::write);
  if (!database)
    return database.fault();
  return Notebook(std::move(*database));
}

Result<Notebook> Notebook::open_to_read(const std::string& path) {
  auto database = open_ready_there(path, Database::Purpose::read);
  if (!database)
    return database.fault();
  return Notebook(std::move(*database));
}

Result<CoatWriter> Notebook::begin_coat(const CoatStart& start) {
  auto database = open_ready(database_->path(), Database::Purpose::write);
  if (!database)
    return database.fault();
  auto transaction = Transaction::begin(**database);
  if (!transaction)
    return transaction.fault();
  const auto number = insert_start(**database, new_uid(), start);
  if (!number)
    return number.fault();
  auto lock = RunningLock::take(database_->path(), *number); // before anybody can see the coat
  if (!lock)
    return lock.fault();
  if (const Outcome committed = transaction->commit(); !committed)
    return committed.fault();
  return CoatWriter(std::make_unique<CoatWriter::Pen>(std::move(*database), std::move(*lock),
                                                      *number, start.marks_per_turn));
}

Outcome Notebook::each_line(const Filter& filter,
                            const std::function<void(const CoatLine&)>& visit) {
  auto select = database_->prepare(kSelectLines);
  if (!select)
    return select.fault();
  bind(*select, filter);
  // Each page is read once: room for all of them would be got from the system for nothing.
  (void)database_->run("PRAGMA cache_size = 32");
  // The first step fixes the moment that all rows are of. A coat that had no end then was being
  // written before it or after it, unless it broke off: who is looked for on one side alone may
  // just have ended, or not begun.
  const RunningCoats before(database_->path());
  auto row = select->step();
  const RunningCoats after(database_->path());
  for (; row && *row; row = select->step()) {
    CoatLine line = line_of(*select);
    line.state = state_of(!select->is_null(9), before.has(line.number) || after.has(line.number));
    visit(line);
  }
  (void)database_->run("PRAGMA cache_size = -2000"); // SQLite's own
  return row ? Outcome(Done{}) : Outcome(row.fault());
}

Result<std::vector<CoatLine>> Notebook::log(const Filter& filter) {
  std::vector<CoatLine> lines;
  const Outcome read = each_line(filter, [&](const CoatLine& line) { lines.push_back(line); });
  if (!read)
    return read.fault();
  return lines;
}

Result<Coat> Notebook::coat(std::int64_t number) {
  // One reading transaction, so that a coat that is being written is seen at one moment. Whether
  // it runs is asked first: a coat that ends in between is then "running" or "finished".
  const bool runs = RunningCoats(database_->path()).has(number);
  if (const Outcome begun = database_->run("BEGIN"); !begun)
    return begun.fault();
  auto coat = read_coat(*database_, number);
  (void)database_->run("COMMIT"); // nothing was written
  if (coat)
    coat->state = state_of(coat->end.has_value(), runs);
  return coat;
}

Result<std::int64_t> Notebook::newest() {
  const auto lines = log({.most = 1});
  if (!lines)
    return lines.fault();
  if (lines->empty())
    return input_fault("the notebook has no coats", database_->path(), "run a coat first");
  return lines->front().number;
}

Outcome Notebook::add_note(const Note& note) {
  if (note.coat)
    if (const Outcome there = require_coat(*database_, *note.coat); !there)
      return there;
  return insert_note(*database_, note); // a statement of its own is a transaction of its own
}

Result<std::vector<Note>> Notebook::notes(const NoteFilter& filter) {
  return read_notes(*database_, filter);
}

Result<std::int64_t> Notebook::add(const Coat& coat) {
  auto transaction = Transaction::begin(*database_);
  if (!transaction)
    return transaction.fault();
  const auto number = insert_or_complete(*database_, coat);
  if (!number)
    return number.fault();
  if (const Outcome committed = transaction->commit(); !committed)
    return committed.fault();
  return *number;
}

} // namespace whirler::notebook
