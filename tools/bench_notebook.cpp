// How long a person waits for the notebook: `whirler log` over 10,000 coats, each with a film
// wanted and one measured; `whirler report` of a coat of a minute at 3000 rpm; and the trend of 200
// such coats; each from spawn to exit.
//
// References, in turn with them in the same run: the same notebook's rows read by bare SQLite and
// printed without thought; `whirler --version`, which is the start of the program alone; and for
// the trend, 200 times the one report. Goals: log under 50 ms, report under 200 ms, trend under
// 1 s.
#include "spawned.hpp"
#include "whirler/notebook/notebook.hpp"

#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

namespace {

using namespace whirler;
using Clock = std::chrono::steady_clock;

constexpr int kCoats = 10'000;
constexpr int kOnTrend = 200;

[[noreturn]] void give_up(const std::string& why) {
  std::fprintf(stderr, "bench_notebook: %s\n", why.c_str());
  std::exit(1);
}

double ms_since(Clock::time_point then) {
  return std::chrono::duration<double, std::milli>(Clock::now() - then).count();
}

std::string source_text(const std::string& name) {
  std::ifstream file(std::string(WHIRLER_SOURCE_DIR) + "/profiles/" + name);
  return {std::istreambuf_iterator<char>(file), {}};
}

/// A minute at 3000 rpm with six marks, ten samples a second.
notebook::Coat full_coat(int number) {
  notebook::Coat coat;
  coat.uid = std::to_string(number);
  coat.uid.insert(0, 32 - coat.uid.size(), 'f');
  coat.start.resist = "amber";
  coat.start.tick = microseconds(0.5);
  coat.start.marks_per_turn = 6;
  for (const auto& [role, name] : {std::pair{"profile", "thin.json"},
                                   {"machine", "machines/bench_simulated.json"},
                                   {"blank", "blanks/rain_gauge.json"},
                                   {"resist", "resists/amber.json"}})
    coat.start.files.push_back({role, name, source_text(name)});
  for (int i = 0; i < 18'000; ++i) {
    coat.pulses.ticks.push_back(std::llround(6666.7 * i + 9.0 * std::sin(1.0472 * i)));
    coat.pulses.marks.push_back(static_cast<std::int16_t>(i % 6));
  }
  for (int i = 0; i <= 600; ++i)
    coat.samples.push_back({seconds(0.1 * i), rpm(std::min(3000.0 - number, 150.0 * i)), rpm(3000),
                            seconds(0.1 * i), 0.4, 0});
  coat.notes.push_back({{0}, "thickness", "", 1, "amber", R"({"measured_um":1.7})"});
  // As long as a run's own: a row of the table holds them too.
  coat.start.cautions.assign(3, std::string(200, 'c'));
  coat.end =
      notebook::CoatEnd{"done", "", "watch", '"' + std::string(530, 's') + '"', seconds(60.0)};
  return coat;
}

/// Rows without pulses, straight into the table: 10,000 transactions would measure the disk.
void add_rows(const std::string& path) {
  sqlite3* book = nullptr;
  const std::string rows =
      "WITH RECURSIVE n(i) AS (SELECT 2 UNION ALL SELECT i + 1 FROM n WHERE i < " +
      std::to_string(kCoats) +
      ") INSERT INTO coats (number, uid, started_ms, board, side, profile, machine, resist, "
      "blank, simulated, driver, tick_s, marks, cautions, outcome, cause, verdict, summary, "
      "length_us, wanted_um, measured_um) "
      "SELECT i, printf('%032d', i), started_ms + i * 60000, 'board ' || i, side, profile, "
      "machine, resist, blank, simulated, driver, tick_s, marks, cautions, outcome, "
      "cause, verdict, summary, length_us, wanted_um, measured_um FROM coats, n WHERE number = 1;"
      "INSERT INTO notes (at_ms, kind, board, coat, resist, document) SELECT number, 'thickness', "
      "'', number, 'amber', '{\"wanted_um\":1.6}' FROM coats;"
      "INSERT INTO notes (at_ms, kind, board, coat, resist, document) SELECT number, 'thickness', "
      "'', number, 'amber', '{\"measured_um\":1.62}' FROM coats WHERE number > 1;";
  if (sqlite3_open(path.c_str(), &book) != SQLITE_OK ||
      sqlite3_exec(book, rows.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK)
    give_up(sqlite3_errmsg(book));
  sqlite3_close(book);
}

double bare_sqlite_ms(const std::string& path) {
  const auto begin = Clock::now();
  sqlite3* book = nullptr;
  std::FILE* out = std::fopen("/dev/null", "w");
  const auto print = [](void* to, int count, char** values, char**) {
    for (int i = 0; i < count; ++i)
      std::fprintf(static_cast<std::FILE*>(to), "%s  ", values[i] == nullptr ? "" : values[i]);
    std::fputc('\n', static_cast<std::FILE*>(to));
    return 0;
  };
  if (sqlite3_open(path.c_str(), &book) != SQLITE_OK ||
      sqlite3_exec(book,
                   "SELECT number, started_ms, board, side, resist, profile, outcome, verdict FROM "
                   "coats ORDER BY number DESC",
                   print, out, nullptr) != SQLITE_OK)
    give_up(sqlite3_errmsg(book));
  sqlite3_close(book);
  std::fclose(out);
  return ms_since(begin);
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

void print_line(const char* what, double ours, const char* reference, double theirs, double goal) {
  std::printf("%s: median %.1f ms; %s: %.1f ms\n  ratio %.2f; goal: under %.0f ms: %s\n", what,
              ours, reference, theirs, ours / theirs, goal, ours < goal ? "met" : "NOT MET");
}

/// Notebooks of one whole coat among ten thousand rows, and of as many whole ones as a trend shows.
void make_books(const std::string& many, const std::string& whole) {
  {
    auto book = notebook::Notebook::open(many);
    if (!book || !book->add(full_coat(1)))
      give_up("no notebook can be made");
  }
  add_rows(many);
  auto book = notebook::Notebook::open(whole);
  for (int i = 1; i <= kOnTrend; ++i)
    if (!book || !book->add(full_coat(i)))
      give_up("no notebook can be made");
}

} // namespace

int main() {
  constexpr int kRounds = 41;
  constexpr int kTrends = 5;
  std::string folder = (std::filesystem::temp_directory_path() / "bench_notebook_XXXXXX").string();
  if (mkdtemp(folder.data()) == nullptr)
    give_up("no temporary folder");
  const std::string path = folder + "/book.db";
  const std::string whole = folder + "/whole.db";
  make_books(path, whole);
  std::vector<double> log;
  std::vector<double> bare;
  std::vector<double> report;
  std::vector<double> version;
  std::vector<double> trend;
  for (int round = 0; round < kRounds; ++round) {
    log.push_back(spawn_ms({WHIRLER_PROGRAM, "log", "--notebook", path}));
    bare.push_back(bare_sqlite_ms(path));
    report.push_back(
        spawn_ms({WHIRLER_PROGRAM, "report", "1", "--output", "-", "--notebook", path}));
    version.push_back(spawn_ms({WHIRLER_PROGRAM, "--version"}));
    if (round < kTrends)
      trend.push_back(
          spawn_ms({WHIRLER_PROGRAM, "report", "--trend", "--output", "-", "--notebook", whole}));
  }
  std::filesystem::remove_all(folder);
  print_line("log of 10,000 coats", median(log), "the same rows by bare SQLite", median(bare), 50);
  print_line("report of a minute's coat", median(report), "whirler --version", median(version),
             200);
  print_line("trend of 200 such coats", median(trend), "200 reports", kOnTrend * median(report),
             1000);
}
