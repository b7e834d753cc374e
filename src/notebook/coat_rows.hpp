// A coat's rows: written when it begins or comes from elsewhere, read back for the log and whole.
#pragma once

#include "database.hpp"
#include "whirler/notebook/coat.hpp"

#include <string>
#include <vector>

namespace whirler::notebook {

/// 128 random bits as hexadecimal digits.
[[nodiscard]] std::string new_uid();

// All of these within the caller's transaction.

/// The coat's row and its files; gives its number.
[[nodiscard]] Result<std::int64_t> insert_start(Database& database, const std::string& uid,
                                                const CoatStart& start);
[[nodiscard]] Outcome insert_pulses(Database& database, std::int64_t coat, std::int64_t seq,
                                    std::span<const std::uint8_t> blob);
[[nodiscard]] Outcome insert_samples(Database& database, std::int64_t coat, std::int64_t seq,
                                     std::span<const std::uint8_t> blob);
[[nodiscard]] Outcome insert_event(Database& database, std::int64_t coat, std::int64_t seq,
                                   const Event& event);
[[nodiscard]] Outcome write_end(Database& database, std::int64_t coat, const CoatEnd& end);

[[nodiscard]] Fault no_such_coat(Database& database, std::int64_t number);

/// The whole coat but for its state. Fault (input): no such number, or a damaged chunk.
[[nodiscard]] Result<Coat> read_coat(Database& database, std::int64_t number);

} // namespace whirler::notebook
