// What the notebook's tests share: a folder that goes away, a made-up coat, and SQLite by the side
// door.
#pragma once

#include "catch.hpp"
#include "whirler/notebook/notebook.hpp"

#include <sqlite3.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <string>

inline std::string new_folder() {
  std::string pattern = (std::filesystem::temp_directory_path() / "notebook-XXXXXX").string();
  REQUIRE(mkdtemp(pattern.data()) != nullptr);
  return pattern;
}

struct Folder {
  std::string path = new_folder();
  Folder() = default;
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() { std::filesystem::remove_all(path); }
  [[nodiscard]] std::string file(const std::string& name) const { return path + "/" + name; }
};

inline whirler::notebook::CoatStart a_start() {
  whirler::notebook::CoatStart start;
  start.started = {1709217000250};
  start.board = "gauge 7";
  start.side = "top";
  start.profile = "thin coat";
  start.machine = "bench spinner";
  start.resist = "Amber 25";
  start.blank = "rain gauge";
  start.simulated = true;
  start.driver = "simulated spinner 0.1";
  start.tick = whirler::microseconds(0.5);
  start.marks_per_turn = 6;
  start.files = {{"profile", "thin.json", "{\"kind\":\"profile\"}"},
                 {"machine", "bänk.json", "{\"kind\":\"machine\"} // ünd\n"}};
  start.cautions = {"no lid switch", "solvent burns"};
  return start;
}

inline whirler::notebook::CoatEnd an_end() {
  return {"completed", "", "even", R"({"peak_error_rpm":3.5})", whirler::seconds(56.5)};
}

constexpr int kPulsesPerSecond = 200;

/// Tick of the i-th made-up pulse: uneven marks, a slow hunt, all whole numbers.
inline std::int64_t tick_of(std::int64_t i) {
  constexpr std::int64_t kUneven[6] = {0, 40, -25, 13, 7, -31};
  return i * 10'000 + kUneven[i % 6] + (i * i) % 17;
}

inline whirler::tach::PulseTrain train_of(int seconds_long) {
  whirler::tach::PulseTrain train;
  for (std::int64_t i = 0; i < std::int64_t{seconds_long} * kPulsesPerSecond; ++i) {
    train.ticks.push_back(tick_of(i));
    train.marks.push_back(static_cast<std::int16_t>(i % 6));
  }
  return train;
}

/// A second of the made-up coat: fifty times a sample and four pulses, then an event.
inline whirler::Outcome write_second(whirler::notebook::CoatWriter& writer, int second) {
  using namespace whirler;
  const auto train = train_of(second + 1);
  for (int i = 0; i < 50; ++i) {
    const Duration now = seconds(second + i * 0.02);
    const auto from = static_cast<std::size_t>(second * kPulsesPerSecond + i * 4);
    const Outcome pulses = writer.pulses(std::span(train.ticks).subspan(from, 4),
                                         std::span(train.marks).subspan(from, 4), 0, now);
    if (!pulses)
      return pulses;
    const Outcome sample = writer.sample({.at = now,
                                          .speed = rpm(2000 + (second * 50 + i) * 0.001),
                                          .target = rpm(2000),
                                          .drive_clock = now * 1.0001,
                                          .command = 0.125,
                                          .segment = 1},
                                         now);
    if (!sample)
      return sample;
  }
  return writer.event({seconds(second + 0.99), "second " + std::to_string(second)},
                      seconds(second + 0.99));
}

inline void sql(const std::string& path, const std::string& text) {
  sqlite3* handle = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  const int code = sqlite3_exec(handle, text.c_str(), nullptr, nullptr, nullptr);
  sqlite3_close(handle);
  REQUIRE(code == SQLITE_OK);
}

inline std::string sql_text(const std::string& path, const std::string& text) {
  sqlite3* handle = nullptr;
  sqlite3_stmt* statement = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &handle) == SQLITE_OK);
  REQUIRE(sqlite3_prepare_v2(handle, text.c_str(), -1, &statement, nullptr) == SQLITE_OK);
  REQUIRE(sqlite3_step(statement) == SQLITE_ROW);
  const auto* value = reinterpret_cast<const char*>(sqlite3_column_text(statement, 0));
  const std::string copy = value == nullptr ? "" : value;
  sqlite3_finalize(statement);
  sqlite3_close(handle);
  return copy;
}

inline int sql_number(const std::string& path, const std::string& text) {
  return std::atoi(sql_text(path, text).c_str());
}
