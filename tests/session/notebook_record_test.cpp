// A run's record: its thread is woken seldom, and yet nothing waits for longer than was promised.
#include "whirler/session/notebook_record.hpp"

#include "catch.hpp"
#include "notebook/notebook_scene.hpp"

#include <sqlite3.h>

#include <array>
#include <thread>

using namespace whirler;
using session::NotebookRecord;

namespace {

session::Closing no_closing(const session::Summary&) { return {"even", "{}"}; }

/// Fifty reports a second, each after its pulses, as a run feeds them at 2400 pulses a second.
class Feeding {
 public:
  explicit Feeding(NotebookRecord& record) : record_(record) {}
  void reports(int count) {
    for (int i = 0; i < count; ++i, ++report_) {
      std::array<std::int64_t, 48> ticks{};
      for (std::int64_t& tick : ticks)
        tick = 833 * ++pulse_;
      record_.pulses({ticks, {}, 0});
      record_.report({}, rpm(3000), now());
    }
  }
  [[nodiscard]] Duration now() const { return seconds(0.02 * report_); }
  [[nodiscard]] std::size_t pulses() const { return static_cast<std::size_t>(pulse_); }

 private:
  NotebookRecord& record_;
  int report_ = 0;
  std::int64_t pulse_ = 0;
};

/// What another program sees once the record's thread has done what it was given.
std::size_t pulses_on_disk(const std::string& path, std::size_t awaited) {
  auto notebook = notebook::Notebook::open_existing(path);
  REQUIRE(notebook.ok());
  std::size_t seen = 0;
  for (int tries = 0; tries < 4000 && seen < awaited; ++tries) { // a bound, not a wait for luck
    seen = notebook->coat(1)->pulses.size();
    std::this_thread::yield();
  }
  return seen;
}

/// Another program's lock on the file: until it is let go, no commit gets through.
class HeldFile {
 public:
  explicit HeldFile(const std::string& path) {
    REQUIRE(sqlite3_open(path.c_str(), &file_) == SQLITE_OK);
    REQUIRE(sqlite3_exec(file_, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
  }
  ~HeldFile() { sqlite3_close(file_); }
  HeldFile(const HeldFile&) = delete;
  HeldFile& operator=(const HeldFile&) = delete;

 private:
  sqlite3* file_ = nullptr;
};

} // namespace

TEST_CASE("record: a disk that is ten seconds behind is a fault once it has been so for two") {
  using std::chrono::milliseconds;
  const Folder folder;
  auto notebook = notebook::Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  NotebookRecord::WallTime now{};
  NotebookRecord record(std::move(*writer), no_closing, [&now] { return now; });
  Feeding feeding(record);
  std::optional<Fault> in_time;
  std::optional<Fault> late;
  {
    const HeldFile held(folder.file("n.db"));
    feeding.reports(700); // hurried: fourteen seconds of the run in no time
    now += milliseconds(1900);
    feeding.reports(20);
    in_time = record.fault();
    now += milliseconds(200);
    feeding.reports(20);
    late = record.fault();
  }
  CHECK_FALSE(in_time);
  REQUIRE(late);
  CHECK(late->what == "the disk does not keep up with the record");
}

TEST_CASE("record: ten seconds at the full rate wake its thread fifty times, not six hundred") {
  const Folder folder;
  auto notebook = notebook::Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  NotebookRecord record(std::move(*writer), no_closing);
  Feeding feeding(record);
  feeding.reports(500);
  CHECK(record.handed_over() >= 45);
  CHECK(record.handed_over() <= 55);
  REQUIRE(record.finish({}).ok());
  const auto coat = notebook->coat(1);
  CHECK(coat->pulses.size() == feeding.pulses());
  CHECK(coat->samples.size() == 100);
  CHECK(coat->state == notebook::CoatState::finished);
}

TEST_CASE(
    "record: what is older than a second is on disk while the run goes on, an event at once") {
  const Folder folder;
  auto notebook = notebook::Notebook::open(folder.file("n.db"));
  auto writer = notebook->begin_coat(a_start());
  NotebookRecord record(std::move(*writer), no_closing);
  Feeding feeding(record);
  feeding.reports(50);
  const std::size_t old = feeding.pulses();
  feeding.reports(50); // a second later
  CHECK(pulses_on_disk(folder.file("n.db"), old) >= old);
  feeding.reports(3);
  record.event("the lid was opened", feeding.now());
  CHECK(pulses_on_disk(folder.file("n.db"), feeding.pulses()) == feeding.pulses());
  CHECK(notebook->coat(1)->events.size() == 1);
}

TEST_CASE("record: one that is given up without an end has kept what it was told, broken off") {
  const Folder folder;
  auto notebook = notebook::Notebook::open(folder.file("n.db"));
  std::size_t fed = 0;
  {
    auto writer = notebook->begin_coat(a_start());
    NotebookRecord record(std::move(*writer), no_closing);
    Feeding feeding(record);
    feeding.reports(7);
    fed = feeding.pulses();
  }
  CHECK(notebook->coat(1)->pulses.size() == fed);
  CHECK(notebook->coat(1)->state == notebook::CoatState::broken_off);
}
