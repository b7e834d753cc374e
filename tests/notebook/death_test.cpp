// The notebook when things die: its writer (SIGKILL at any moment), its disk (full), its peace (a
// second writer).
#include "catch.hpp"
#include "notebook_scene.hpp"

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <csignal>
#include <cstdint>
#include <functional>
#include <random>

using namespace whirler;
using namespace whirler::notebook;
using Catch::Matchers::ContainsSubstring;

namespace {

/// Runs `work` in a process of its own that writes what it has safely stored into the pipe.
class Child {
 public:
  explicit Child(const std::function<int(int pipe)>& work) {
    REQUIRE(pipe(pipe_.data()) == 0);
    process_ = fork();
    REQUIRE(process_ >= 0);
    if (process_ == 0) {
      close(pipe_[0]);
      _exit(work(pipe_[1]));
    }
    close(pipe_[1]);
  }
  ~Child() {
    if (process_ > 0)
      end(SIGKILL);
    close(pipe_[0]);
  }
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;

  /// The next word, waited for; none when the child has ended.
  std::optional<std::int64_t> word() {
    std::int64_t value = 0;
    return read(pipe_[0], &value, sizeof value) == sizeof value ? std::optional(value)
                                                                : std::nullopt;
  }
  /// All words said until the child ended; the last one.
  std::int64_t last_word(std::int64_t before) {
    while (const auto next = word())
      before = *next;
    return before;
  }
  /// Ends it by a signal (0: waits for its own end); its exit status, or minus the signal.
  int end(int signal) {
    int status = 0;
    if (signal != 0)
      kill(process_, signal);
    waitpid(process_, &status, 0);
    process_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }

 private:
  std::array<int, 2> pipe_{};
  pid_t process_ = -1;
};

void say(int pipe, std::int64_t word) { (void)!write(pipe, &word, sizeof word); }

/// Writes the made-up pulses for ever, fifty commits a turn of the loop, and says after each commit
/// how many are stored.
int write_for_ever(const std::string& path, int pipe) {
  auto notebook = Notebook::open(path);
  if (!notebook)
    return 1;
  auto writer = notebook->begin_coat(a_start());
  if (!writer)
    return 2;
  say(pipe, writer->number());
  for (std::int64_t i = 0;; i += 8) {
    std::array<std::int64_t, 8> ticks{};
    for (std::int64_t k = 0; k < 8; ++k)
      ticks[static_cast<std::size_t>(k)] = tick_of(i + k);
    const Duration now = seconds(static_cast<double>(i));
    if (!writer->pulses(ticks, {}, 0, now) || !writer->sample({.at = now}, now) ||
        !writer->flush(now))
      return 3;
    say(pipe, i + 8);
  }
}

void check_prefix(const Coat& coat, std::int64_t stored) {
  CHECK(coat.state == CoatState::broken_off);
  CHECK(static_cast<std::int64_t>(coat.pulses.size()) >= stored);
  bool same = true;
  for (std::size_t i = 0; i < coat.pulses.size(); ++i)
    same = same && coat.pulses.ticks[i] == tick_of(static_cast<std::int64_t>(i));
  CHECK(same);
}

} // namespace

TEST_CASE("notebook: killed at any moment, every coat is there up to its last commit") {
  constexpr int kKills = 200;
  const Folder folder;
  const std::string path = folder.file("n.db");
  std::mt19937 random(11);
  std::int64_t coats = 0;
  for (int kill_number = 0; kill_number < kKills; ++kill_number) {
    Child child([&](int pipe) { return write_for_ever(path, pipe); });
    // Some are killed in the opening, some in a commit: after so many words and some microseconds.
    std::int64_t number = 0;
    std::int64_t stored = 0;
    const int words = static_cast<int>(random() % 6);
    for (int i = 0; i < words; ++i) {
      const auto word = child.word();
      REQUIRE(word);
      (i == 0 ? number : stored) = *word;
    }
    usleep(static_cast<useconds_t>(random() % 3000));
    REQUIRE(child.end(SIGKILL) == -SIGKILL);
    if (words == 0)
      continue; // killed in the opening: it must only leave the others whole
    stored = child.last_word(stored);
    auto notebook = Notebook::open(path);
    REQUIRE(notebook.ok());
    const auto coat = notebook->coat(number);
    REQUIRE(coat.ok());
    check_prefix(*coat, stored);
    ++coats;
  }
  CHECK(coats > kKills / 2);
  CHECK(sql_text(path, "PRAGMA integrity_check") == "ok");
  auto notebook = Notebook::open(path);
  const auto lines = notebook->log();
  REQUIRE(lines.ok());
  CHECK(static_cast<std::int64_t>(lines->size()) >= coats); // nothing earlier is lost
  for (const CoatLine& line : *lines)
    CHECK(line.state == CoatState::broken_off);
}

TEST_CASE("notebook: two programs open a new notebook and write at once, and both are whole") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  constexpr int kSeconds = 10;
  const auto write_one = [&](int pipe) {
    auto notebook = Notebook::open(path);
    if (!notebook) {
      std::fprintf(stderr, "%s\n", to_text(notebook.fault()).c_str());
      return 1;
    }
    auto writer = notebook->begin_coat(a_start());
    if (!writer)
      return 2;
    say(pipe, writer->number());
    for (int second = 0; second < kSeconds; ++second)
      if (!write_second(*writer, second))
        return 3;
    return writer->finish(an_end(), seconds(kSeconds)) ? 0 : 4;
  };
  Child one(write_one);
  Child two(write_one);
  CHECK(one.end(0) == 0);
  CHECK(two.end(0) == 0);
  auto notebook = Notebook::open(path);
  REQUIRE(notebook->log()->size() == 2);
  for (const std::int64_t number : {1, 2}) {
    const auto coat = notebook->coat(number);
    REQUIRE(coat.ok());
    CHECK(coat->state == CoatState::finished);
    CHECK(coat->pulses.ticks == train_of(kSeconds).ticks);
    CHECK(coat->events.size() == kSeconds);
  }
}

TEST_CASE(
    "notebook: a program that holds the notebook is named as the reason, not waited for ever") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  auto notebook = Notebook::open(path);
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer.ok());
  sqlite3* other = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &other) == SQLITE_OK);
  REQUIRE(sqlite3_exec(other, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr) == SQLITE_OK);
  const auto begun = notebook->begin_coat(a_start());
  REQUIRE_FALSE(begun.ok());
  CHECK(begun.fault().kind == FaultKind::input);
  CHECK_THAT(begun.fault().what, ContainsSubstring("another program"));
  CHECK(notebook->log().ok()); // reading goes on
  const Outcome kept = writer->event({seconds(1), "x"}, seconds(1));
  REQUIRE_FALSE(kept.ok());
  CHECK(kept.fault().kind == FaultKind::ended_early);
  CHECK_THAT(kept.fault().what, ContainsSubstring("another program"));
  sqlite3_close(other);
}

TEST_CASE("notebook: on a full disk the writer says so, and nothing written before is lost") {
  const Folder folder;
  const std::string path = folder.file("n.db");
  // The limit on a file's size stands for the disk: a write past it fails as on a full one.
  Child child([&](int pipe) {
    std::signal(SIGXFSZ, SIG_IGN);
    auto notebook = Notebook::open(path);
    auto earlier = notebook->begin_coat(a_start());
    if (!earlier || !write_second(*earlier, 0) || !earlier->finish(an_end(), seconds(1)))
      return 1;
    auto writer = notebook->begin_coat(a_start());
    say(pipe, writer->number());
    const rlimit limit{300'000, 300'000};
    setrlimit(RLIMIT_FSIZE, &limit);
    for (std::int64_t i = 0; i < 1'000'000; i += 100) {
      std::vector<std::int64_t> ticks;
      for (std::int64_t k = 0; k < 100; ++k)
        ticks.push_back(tick_of(i + k));
      const Duration now = seconds(static_cast<double>(i));
      const Outcome kept = writer->pulses(ticks, {}, 0, now);
      if (kept)
        say(pipe, i + 100);
      else
        return kept.fault().kind == FaultKind::ended_early && !writer->flush(now) &&
                       !writer->finish(an_end(), now)
                   ? 42
                   : 2;
    }
    return 3;
  });
  const std::int64_t number = *child.word();
  const std::int64_t stored = child.last_word(0);
  CHECK(child.end(0) == 42);
  CHECK(stored > 1000);
  auto notebook = Notebook::open(path);
  REQUIRE(notebook.ok());
  CHECK(notebook->coat(1)->pulses.ticks == train_of(1).ticks);
  CHECK(notebook->coat(1)->state == CoatState::finished);
  // A batch that was handed over but not yet due for a commit may be missing: one at most.
  const auto coat = notebook->coat(number);
  REQUIRE(coat.ok());
  check_prefix(*coat, stored - 100);
  CHECK(sql_text(path, "PRAGMA integrity_check") == "ok");
}

TEST_CASE("notebook: a read-only folder is a clear fault") {
  if (geteuid() == 0)
    return; // root may write anywhere: the claim cannot be looked at
  const Folder folder;
  std::filesystem::permissions(folder.path, std::filesystem::perms::owner_read |
                                                std::filesystem::perms::owner_exec);
  const auto opened = Notebook::open(folder.file("n.db"));
  REQUIRE_FALSE(opened.ok());
  CHECK(opened.fault().kind == FaultKind::input);
  std::filesystem::permissions(folder.path, std::filesystem::perms::owner_all);
}
