#include "database.hpp"

#include "whirler/files/fault_list.hpp"
#include "whirler/units/letters.hpp"

#include <unistd.h>

#include <filesystem>

namespace whirler::notebook {
namespace {

/// Text with U+FFFD in place of bytes that are not UTF-8: a driver's name may hold anything, and
/// what the notebook holds must come out of an export as it went in.
std::string clean(std::string_view text) {
  std::string good;
  for (;;) {
    const std::size_t bad = files::first_not_utf8(text);
    good += text.substr(0, bad);
    if (bad == std::string_view::npos)
      return good;
    good += "\xEF\xBF\xBD";
    text.remove_prefix(bad + 1);
  }
}

constexpr int kPatience_ms = 2000; ///< how long another program's commit is waited for

} // namespace

Fault fault_of(int code, const std::string& path) {
  switch (code & 0xFF) { // the rest of an extended code is detail
  case SQLITE_BUSY:
  case SQLITE_LOCKED:
    return input_fault("another program is writing to the notebook", path,
                       "wait until it has finished, or name another one with --notebook");
  case SQLITE_FULL:
    return input_fault("the disk is full", path,
                       "make room; what was written before is still there");
  case SQLITE_READONLY:
  case SQLITE_PERM:
  case SQLITE_AUTH:
    return input_fault("the notebook may not be written", path,
                       "check its permissions and its folder's, or name another with --notebook");
  case SQLITE_CANTOPEN:
    return input_fault("the notebook cannot be opened", path,
                       "check its folder and its permissions, or name another with --notebook");
  case SQLITE_NOTADB:
    return input_fault("this file is not a notebook", path, "name another with --notebook");
  case SQLITE_CORRUPT:
    return input_fault("the notebook is damaged", path,
                       "keep a copy of it, and go on in a new one with --notebook");
  case SQLITE_IOERR:
    return input_fault("the disk gave an error (SQLite " + std::to_string(code) + ")", path,
                       "check the disk and its space; what was written before is still there");
  default:
    return {FaultKind::program,
            std::string("SQLite says: ") + sqlite3_errstr(code) + " (" + std::to_string(code) + ")",
            path, "please report it"};
  }
}

// ---- statement

Statement::Statement(sqlite3_stmt* statement, const std::string& path)
    : statement_(statement), path_(path) {}

Statement& Statement::bind(std::int64_t value) {
  if (const int code = sqlite3_bind_int64(statement_.get(), ++bound_, value); code != SQLITE_OK)
    trouble_ = code;
  return *this;
}

Statement& Statement::bind(double value) {
  if (const int code = sqlite3_bind_double(statement_.get(), ++bound_, value); code != SQLITE_OK)
    trouble_ = code;
  return *this;
}

Statement& Statement::bind(std::string_view text) {
  const std::string good = clean(text);
  const int code = sqlite3_bind_text64(statement_.get(), ++bound_, good.data(), good.size(),
                                       SQLITE_TRANSIENT, SQLITE_UTF8);
  if (code != SQLITE_OK)
    trouble_ = code;
  return *this;
}

Statement& Statement::bind_blob(std::span<const std::uint8_t> bytes) {
  const int code =
      sqlite3_bind_blob64(statement_.get(), ++bound_, bytes.data(), bytes.size(), SQLITE_TRANSIENT);
  if (code != SQLITE_OK)
    trouble_ = code;
  return *this;
}

Result<bool> Statement::step() {
  const int code = trouble_ != SQLITE_OK ? trouble_ : sqlite3_step(statement_.get());
  if (code == SQLITE_ROW)
    return true;
  if (code == SQLITE_DONE)
    return false;
  return fault_of(code, path_);
}

Outcome Statement::run() {
  const auto stepped = step();
  if (!stepped)
    return stepped.fault();
  reset();
  return Done{};
}

void Statement::reset() {
  sqlite3_reset(statement_.get());
  bound_ = 0;
}

std::int64_t Statement::integer(int column) const {
  return sqlite3_column_int64(statement_.get(), column);
}

double Statement::real(int column) const { return sqlite3_column_double(statement_.get(), column); }

bool Statement::is_null(int column) const {
  return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL;
}

std::string Statement::text(int column) const {
  const unsigned char* text = sqlite3_column_text(statement_.get(), column);
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return text == nullptr ? std::string() : std::string(text, text + size);
}

std::span<const std::uint8_t> Statement::blob(int column) const {
  const void* bytes = sqlite3_column_blob(statement_.get(), column);
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return {static_cast<const std::uint8_t*>(bytes),
          bytes == nullptr ? 0 : static_cast<std::size_t>(size)};
}

// ---- database

namespace {

/// Whether file and folder can be written: SQLite's log lies beside the file.
bool may_be_written(const std::string& path) {
  const auto folder = std::filesystem::path(path).parent_path().string();
  return access(path.c_str(), W_OK) == 0 &&
         access(folder.empty() ? "." : folder.c_str(), W_OK) == 0;
}

constexpr int kFoldedIs = SQLITE_UTF8 | SQLITE_DETERMINISTIC | SQLITE_DIRECTONLY;

/// folded(text): in small letters. SQLite's own lower() knows those of ASCII alone.
void fold_column(sqlite3_context* answer, int, sqlite3_value** values) {
  const unsigned char* text = sqlite3_value_text(values[0]);
  const std::string small =
      text == nullptr ? std::string()
                      : folded({reinterpret_cast<const char*>(text), // bytes are bytes
                                static_cast<std::size_t>(sqlite3_value_bytes(values[0]))});
  sqlite3_result_text64(answer, small.data(), small.size(), SQLITE_TRANSIENT, SQLITE_UTF8);
}

/// A file name as SQLite takes it with options behind it (sqlite.org/uri.html).
std::string uri_of(const std::string& path, const char* option) {
  std::error_code error;
  std::string uri = "file:";
  for (const char c : std::filesystem::absolute(path, error).string()) {
    const bool plain = c != '%' && c != '?' && c != '#';
    uri += plain ? std::string(1, c) : c == '%' ? "%25" : c == '?' ? "%3f" : "%23";
  }
  return uri + "?" + option;
}

} // namespace

Result<std::unique_ptr<Database>> Database::connect(const std::string& path,
                                                    const std::string& name, int flags) {
  sqlite3* handle = nullptr;
  // No lock around each call: a connection belongs to one thread at a time.
  const int code = sqlite3_open_v2(name.c_str(), &handle, SQLITE_OPEN_NOMUTEX | flags, nullptr);
  std::unique_ptr<Database> database( // closes it in every case
      new Database(handle, path, (flags & SQLITE_OPEN_READONLY) != 0));
  if (code != SQLITE_OK)
    return fault_of(code, path);
  if (const int known = sqlite3_create_function(handle, "folded", 1, kFoldedIs, nullptr,
                                                fold_column, nullptr, nullptr);
      known != SQLITE_OK)
    return fault_of(known, path);
  sqlite3_extended_result_codes(handle, 1);
  sqlite3_busy_timeout(handle, kPatience_ms);
  return database;
}

/// SQLite reads a write-ahead log only with an index beside it, and where it cannot make that it
/// does not open the file at all, even where there is no log. `immutable` promises that nobody
/// writes; it is said only where there is no log: what is in one would not be seen.
Result<std::unique_ptr<Database>> Database::open_as_it_lies(const std::string& path) {
  constexpr int kFlags = SQLITE_OPEN_READONLY | SQLITE_OPEN_URI;
  auto plain = connect(path, uri_of(path, "mode=ro"), kFlags);
  if (!plain)
    return plain.fault();
  const Outcome can_be_read = (*plain)->run("SELECT count(*) FROM sqlite_master");
  if (can_be_read || !(can_be_read.fault() == fault_of(SQLITE_CANTOPEN, path) ||
                       can_be_read.fault() == fault_of(SQLITE_READONLY, path)))
    return plain;
  const std::string log = path + "-wal";
  std::error_code missing;
  if (std::filesystem::file_size(log, missing) > 0 && !missing)
    return input_fault("the notebook's last coats are in a log beside it, which cannot be read "
                       "where nothing may be written",
                       log, "copy both files to a folder of your own, and name that notebook");
  return connect(path, uri_of(path, "immutable=1"), kFlags);
}

Result<std::unique_ptr<Database>> Database::open(const std::string& path, Purpose purpose) {
  std::error_code error;
  if (std::filesystem::is_directory(path, error))
    return input_fault("this is a folder", path, "name a file with --notebook");
  if (std::filesystem::exists(path, error) && !may_be_written(path))
    return purpose == Purpose::read ? open_as_it_lies(path) : fault_of(SQLITE_READONLY, path);
  const int make = purpose == Purpose::make ? SQLITE_OPEN_CREATE : 0;
  return connect(path, path, SQLITE_OPEN_READWRITE | make);
}

Result<Statement> Database::prepare(const char* sql) {
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v2(handle_.get(), sql, -1, &statement, nullptr);
  if (code != SQLITE_OK)
    return fault_of(code, path_);
  return Statement(statement, path_);
}

Outcome Database::run(const char* sql) {
  const int code = sqlite3_exec(handle_.get(), sql, nullptr, nullptr, nullptr);
  if (code != SQLITE_OK)
    return fault_of(code, path_);
  return Done{};
}

// ---- transaction

Result<Transaction> Transaction::begin(Database& database) {
  if (const Outcome begun = database.run("BEGIN IMMEDIATE"); !begun)
    return begun.fault();
  return Transaction(database);
}

Transaction::~Transaction() {
  if (database_ != nullptr)
    (void)database_->run("ROLLBACK"); // fails only where SQLite has already undone it
}

Outcome Transaction::commit() {
  const Outcome committed = database_->run("COMMIT");
  if (committed)
    database_ = nullptr;
  return committed;
}

} // namespace whirler::notebook
