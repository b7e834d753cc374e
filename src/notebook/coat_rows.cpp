#include "coat_rows.hpp"

#include "note_rows.hpp"
#include "whirler/notebook/pack.hpp"

#include <nlohmann/json.hpp>

#include <random>

namespace whirler::notebook {
namespace {

using Json = nlohmann::json;

std::string texts_to_json(const std::vector<std::string>& texts) {
  return Json(texts).dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::vector<std::string> texts_from_json(const std::string& text) {
  const Json read = Json::parse(text, nullptr, false);
  std::vector<std::string> texts;
  if (read.is_array())
    for (const Json& item : read)
      if (item.is_string())
        texts.push_back(item.get<std::string>());
  return texts;
}

/// The row of a text in `files`, made where the text is new.
Result<std::int64_t> keep_text(Database& database, const std::string& text) {
  auto insert = database.prepare("INSERT OR IGNORE INTO files (text) VALUES (?)");
  auto find = database.prepare("SELECT id FROM files WHERE text = ?");
  for (const auto* statement : {&insert, &find})
    if (!*statement)
      return statement->fault();
  if (const Outcome inserted = insert->bind(text).run(); !inserted)
    return inserted.fault();
  const auto row = find->bind(text).step();
  if (!row)
    return row.fault();
  return find->integer(0);
}

Outcome insert_files(Database& database, std::int64_t coat, const std::vector<KeptFile>& files) {
  auto insert = database.prepare(
      "INSERT INTO coat_files (coat, seq, role, name, file) VALUES (?, ?, ?, ?, ?)");
  if (!insert)
    return insert.fault();
  std::int64_t seq = 0;
  for (const KeptFile& file : files) {
    const auto text = keep_text(database, file.text);
    if (!text)
      return text.fault();
    insert->bind(coat).bind(seq++).bind(file.role).bind(file.name).bind(*text);
    if (const Outcome inserted = insert->run(); !inserted)
      return inserted.fault();
  }
  return Done{};
}

Outcome insert_chunk(Database& database, const char* sql, std::int64_t coat, std::int64_t seq,
                     std::span<const std::uint8_t> blob) {
  auto insert = database.prepare(sql);
  if (!insert)
    return insert.fault();
  return insert->bind(coat).bind(seq).bind_blob(blob).run();
}

Fault damaged(const Database& database, std::int64_t coat) {
  return input_fault("coat " + std::to_string(coat) + " is damaged", database.path(),
                     "restore the notebook from a copy");
}

/// Asks for the rows of one coat and hands each to `take`, which says whether it is good.
template <class Take>
Outcome each_row(Database& database, const char* sql, std::int64_t coat, const Take& take) {
  auto rows = database.prepare(sql);
  if (!rows)
    return rows.fault();
  rows->bind(coat);
  for (;;) {
    const auto row = rows->step();
    if (!row)
      return row.fault();
    if (!*row)
      return Done{};
    if (!take(*rows))
      return damaged(database, coat);
  }
}

constexpr const char* kSelectCoat =
    "SELECT uid, started_ms, board, side, profile, machine, resist, blank, simulated, driver, "
    "tick_s, marks, cautions, outcome, cause, verdict, summary, length_us "
    "FROM coats WHERE number = ?";

void take_start(const Statement& row, Coat& coat) {
  coat.uid = row.text(0);
  CoatStart& start = coat.start;
  start.started.unix_ms = row.integer(1);
  start.board = row.text(2);
  start.side = row.text(3);
  start.profile = row.text(4);
  start.machine = row.text(5);
  start.resist = row.text(6);
  start.blank = row.text(7);
  start.simulated = row.integer(8) != 0;
  start.driver = row.text(9);
  start.tick = seconds(row.real(10));
  start.marks_per_turn = static_cast<int>(row.integer(11));
  start.cautions = texts_from_json(row.text(12));
  coat.pulses.tick = start.tick;
}

void take_end(const Statement& row, Coat& coat) {
  if (!row.is_null(13))
    coat.end =
        CoatEnd{row.text(13), row.text(14), row.text(15), row.text(16), from_us(row.integer(17))};
}

/// Adds a chunk's pulses. Marks are kept for all pulses or for none.
bool take_pulses(Coat& coat, std::span<const std::uint8_t> bytes) {
  const auto chunk = unpack_pulses(bytes);
  if (!chunk)
    return false;
  auto& train = coat.pulses;
  for (const Gap& gap : chunk->gaps)
    coat.gaps.push_back({train.ticks.size() + gap.before, gap.lost});
  if (!chunk->marks.empty() || !train.marks.empty())
    train.marks.resize(train.ticks.size(), -1);
  train.ticks.insert(train.ticks.end(), chunk->ticks.begin(), chunk->ticks.end());
  train.marks.insert(train.marks.end(), chunk->marks.begin(), chunk->marks.end());
  if (!train.marks.empty())
    train.marks.resize(train.ticks.size(), -1);
  return true;
}

bool take_samples(Coat& coat, std::span<const std::uint8_t> bytes) {
  const auto samples = unpack_samples(bytes);
  if (samples)
    coat.samples.insert(coat.samples.end(), samples->begin(), samples->end());
  return samples.has_value();
}

Outcome read_parts(Database& database, Coat& coat) {
  const auto files = each_row(
      database,
      "SELECT role, name, text FROM coat_files JOIN files ON id = file WHERE coat = ? ORDER BY seq",
      coat.number, [&](const Statement& row) {
        coat.start.files.push_back({row.text(0), row.text(1), row.text(2)});
        return true;
      });
  const auto pulses =
      each_row(database, "SELECT data FROM pulse_chunks WHERE coat = ? ORDER BY seq", coat.number,
               [&](const Statement& row) { return take_pulses(coat, row.blob(0)); });
  const auto samples =
      each_row(database, "SELECT data FROM sample_chunks WHERE coat = ? ORDER BY seq", coat.number,
               [&](const Statement& row) { return take_samples(coat, row.blob(0)); });
  const auto events =
      each_row(database, "SELECT at_us, text FROM events WHERE coat = ? ORDER BY seq", coat.number,
               [&](const Statement& row) {
                 coat.events.push_back({from_us(row.integer(0)), row.text(1)});
                 return true;
               });
  for (const auto* part : {&files, &pulses, &samples, &events})
    if (!*part)
      return *part;
  auto notes = read_notes(database, {.coat = coat.number});
  if (!notes)
    return notes.fault();
  coat.notes = std::move(*notes);
  return Done{};
}

} // namespace

std::string new_uid() {
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::random_device random;
  std::uniform_int_distribution<std::size_t> digit(0, kDigits.size() - 1);
  std::string uid;
  for (int i = 0; i < 32; ++i)
    uid += kDigits[digit(random)];
  return uid;
}

Result<std::int64_t> insert_start(Database& database, const std::string& uid,
                                  const CoatStart& start) {
  auto insert = database.prepare(
      "INSERT INTO coats (uid, started_ms, board, side, profile, machine, resist, blank, "
      "simulated, driver, tick_s, marks, cautions) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  if (!insert)
    return insert.fault();
  insert->bind(uid).bind(start.started.unix_ms).bind(start.board).bind(start.side);
  insert->bind(start.profile).bind(start.machine).bind(start.resist).bind(start.blank);
  insert->bind(std::int64_t{start.simulated}).bind(start.driver).bind(start.tick.s());
  insert->bind(std::int64_t{start.marks_per_turn}).bind(texts_to_json(start.cautions));
  if (const Outcome inserted = insert->run(); !inserted)
    return inserted.fault();
  const std::int64_t number = database.last_row();
  if (const Outcome files = insert_files(database, number, start.files); !files)
    return files.fault();
  return number;
}

Outcome insert_pulses(Database& database, std::int64_t coat, std::int64_t seq,
                      std::span<const std::uint8_t> blob) {
  return insert_chunk(database, "INSERT INTO pulse_chunks (coat, seq, data) VALUES (?, ?, ?)", coat,
                      seq, blob);
}

Outcome insert_samples(Database& database, std::int64_t coat, std::int64_t seq,
                       std::span<const std::uint8_t> blob) {
  return insert_chunk(database, "INSERT INTO sample_chunks (coat, seq, data) VALUES (?, ?, ?)",
                      coat, seq, blob);
}

Outcome insert_event(Database& database, std::int64_t coat, std::int64_t seq, const Event& event) {
  auto insert = database.prepare("INSERT INTO events (coat, seq, at_us, text) VALUES (?, ?, ?, ?)");
  if (!insert)
    return insert.fault();
  return insert->bind(coat).bind(seq).bind(to_us(event.at)).bind(event.text).run();
}

Outcome write_end(Database& database, std::int64_t coat, const CoatEnd& end) {
  auto update = database.prepare("UPDATE coats SET outcome = ?, cause = ?, verdict = ?, "
                                 "summary = ?, length_us = ? WHERE number = ?");
  if (!update)
    return update.fault();
  update->bind(end.outcome).bind(end.cause).bind(end.verdict).bind(end.summary);
  return update->bind(to_us(end.length)).bind(coat).run();
}

Fault no_such_coat(Database& database, std::int64_t number) {
  std::string what = "there is no coat " + std::to_string(number);
  auto newest = database.prepare("SELECT max(number) FROM coats");
  if (newest && newest->step().ok() && !newest->is_null(0))
    what += "; the newest is " + std::to_string(newest->integer(0));
  return input_fault(what, database.path(), "see the numbers with: whirler log");
}

Result<Coat> read_coat(Database& database, std::int64_t number) {
  auto select = database.prepare(kSelectCoat);
  if (!select)
    return select.fault();
  const auto row = select->bind(number).step();
  if (!row)
    return row.fault();
  if (!*row)
    return no_such_coat(database, number);
  Coat coat;
  coat.number = number;
  take_start(*select, coat);
  take_end(*select, coat);
  if (const Outcome parts = read_parts(database, coat); !parts)
    return parts.fault();
  return coat;
}

} // namespace whirler::notebook
