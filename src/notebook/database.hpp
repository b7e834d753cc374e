// SQLite with faults as values: a connection, and a statement on it.
#pragma once

#include "whirler/units/result.hpp"

#include <sqlite3.h>

#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>

namespace whirler::notebook {

class Statement {
 public:
  // Values for the question marks, in their order.
  Statement& bind(std::int64_t value);
  Statement& bind(double value);
  Statement& bind(std::string_view text);
  Statement& bind_blob(std::span<const std::uint8_t> bytes);

  /// True: a row can be read. False: there are no more.
  [[nodiscard]] Result<bool> step();
  /// For statements that give no rows.
  [[nodiscard]] Outcome run();
  /// Ready for new values and a new run.
  void reset();

  // Columns of the row, from 0.
  [[nodiscard]] std::int64_t integer(int column) const;
  [[nodiscard]] double real(int column) const;
  [[nodiscard]] std::string text(int column) const;
  [[nodiscard]] bool is_null(int column) const;
  /// Good until the next step.
  [[nodiscard]] std::span<const std::uint8_t> blob(int column) const;

 private:
  friend class Database;
  Statement(sqlite3_stmt* statement, const std::string& path);
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
  };
  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
  std::string path_;
  int bound_ = 0;
  int trouble_ = SQLITE_OK; ///< of a bind, told by the next step
};

class Database {
 public:
  enum class Purpose {
    make,  ///< to write, in a new file where there is none
    write, ///< to write; the file must be there
    read   ///< and nothing else: then it may lie where nothing can be written
  };
  [[nodiscard]] static Result<std::unique_ptr<Database>> open(const std::string& path,
                                                              Purpose purpose);
  [[nodiscard]] const std::string& path() const { return path_; }
  /// Opened to be read, where it could not be written.
  [[nodiscard]] bool is_read_only() const { return read_only_; }
  [[nodiscard]] Result<Statement> prepare(const char* sql);
  /// One or more statements without values or rows.
  [[nodiscard]] Outcome run(const char* sql);
  [[nodiscard]] std::int64_t last_row() const { return sqlite3_last_insert_rowid(handle_.get()); }

 private:
  Database(sqlite3* handle, const std::string& path, bool read_only)
      : handle_(handle), path_(path), read_only_(read_only) {}
  static Result<std::unique_ptr<Database>> connect(const std::string& path, const std::string& name,
                                                   int flags);
  static Result<std::unique_ptr<Database>> open_as_it_lies(const std::string& path);
  struct Close {
    void operator()(sqlite3* handle) const { sqlite3_close_v2(handle); }
  };
  std::unique_ptr<sqlite3, Close> handle_;
  std::string path_;
  bool read_only_ = false;
};

/// BEGIN IMMEDIATE until `commit`; undone by the destructor otherwise.
class Transaction {
 public:
  [[nodiscard]] static Result<Transaction> begin(Database& database);
  ~Transaction();
  Transaction(Transaction&& other) noexcept : database_(other.database_) {
    other.database_ = nullptr;
  }
  Transaction& operator=(Transaction&&) = delete;
  [[nodiscard]] Outcome commit();

 private:
  explicit Transaction(Database& database) : database_(&database) {}
  Database* database_;
};

/// What SQLite's result code means for the person at the bench.
[[nodiscard]] Fault fault_of(int code, const std::string& path);

} // namespace whirler::notebook
