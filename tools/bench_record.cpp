// What the record of a run costs at the full rate of pulses: 2400 a second (3000 rpm, 48 marks) and
// fifty reports a second, fed in real time as a run feeds them, into the notebook of a run.
//
//   bench_record [SECONDS]      default 20 s each
//
// Processor time (user and system, all threads) over the time that passed, less that of the same
// feeding into a record that keeps nothing. The reference is the plainest record there is: each
// tick as a line of text in a file, brought to the disk as often as the notebook is. Goal: under
// 0.5 % of one core.
#include "whirler/notebook/notebook.hpp"
#include "whirler/session/notebook_record.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace whirler;
using Clock = std::chrono::steady_clock;

constexpr int kReportsPerSecond = 50;
constexpr int kPulsesPerReport = 48;

/// What is fed: a report's speed and time, and the pulses since the report before it.
using Feed = std::function<void(Duration now, const std::vector<std::int64_t>& ticks,
                                const std::vector<std::int16_t>& marks)>;

[[noreturn]] void give_up(const std::string& why) {
  std::fprintf(stderr, "bench_record: %s\n", why.c_str());
  std::exit(1);
}

double processor_s() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  const auto s = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return s(usage.ru_utime) + s(usage.ru_stime);
}

/// Feeds for so long in real time; the share of one core that it took.
double share_of_a_core(int seconds_long, const Feed& feed, const std::function<void()>& close) {
  std::vector<std::int64_t> ticks(kPulsesPerReport);
  std::vector<std::int16_t> marks(kPulsesPerReport);
  const double before = processor_s();
  const auto begin = Clock::now();
  std::int64_t pulse = 0;
  for (int i = 0; i < seconds_long * kReportsPerSecond; ++i) {
    for (std::size_t k = 0; k < ticks.size(); ++k, ++pulse) {
      ticks[k] = pulse * 833 + (pulse * pulse) % 17 + 5 * (pulse % 48); // jitter, uneven marks
      marks[k] = static_cast<std::int16_t>(pulse % 48);
    }
    feed(seconds(static_cast<double>(i) / kReportsPerSecond), ticks, marks);
    std::this_thread::sleep_until(
        begin + std::chrono::microseconds(1'000'000LL * (i + 1) / kReportsPerSecond));
  }
  close();
  const double wall = std::chrono::duration<double>(Clock::now() - begin).count();
  return (processor_s() - before) / wall;
}

double into_nothing(int seconds_long) {
  std::int64_t kept = 0;
  const double share = share_of_a_core(
      seconds_long, [&](Duration, const auto& ticks, const auto&) { kept += ticks.back(); }, [] {});
  return kept > 0 ? share : 1.0;
}

double into_plain_file(int seconds_long, const std::string& path) {
  const int file = open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  if (file < 0)
    give_up("no file can be made in the temporary folder");
  std::string waiting;
  int reports = 0;
  const auto put = [&] {
    if (write(file, waiting.data(), waiting.size()) != static_cast<ssize_t>(waiting.size()) ||
        fdatasync(file) != 0)
      give_up("the plain file cannot be written");
    waiting.clear();
  };
  const double share = share_of_a_core(
      seconds_long,
      [&](Duration, const auto& ticks, const auto& marks) {
        for (std::size_t k = 0; k < ticks.size(); ++k)
          waiting += std::to_string(ticks[k]) + "," + std::to_string(marks[k]) + "\n";
        if (++reports % (kReportsPerSecond / 2) == 0)
          put();
      },
      put);
  close(file);
  return share;
}

double into_notebook(int seconds_long, const std::string& path) {
  auto book = notebook::Notebook::open(path);
  notebook::CoatStart start;
  start.tick = microseconds(0.5);
  start.marks_per_turn = 48;
  auto writer = book ? book->begin_coat(start) : Result<notebook::CoatWriter>(book.fault());
  if (!writer)
    give_up(to_text(writer.fault()));
  session::NotebookRecord record(std::move(*writer),
                                 [](const session::Summary&) { return session::Closing{}; });
  drive::Report report;
  report.target = rpm(3000);
  const double share = share_of_a_core(
      seconds_long,
      [&](Duration now, const auto& ticks, const auto& marks) {
        record.pulses({ticks, marks, 0});
        record.report(report, rpm(3000), now);
      },
      [&] {
        if (!record.finish({}))
          give_up(to_text(*record.fault()));
      });
  const auto coat = book->coat(record.number());
  const auto fed = static_cast<std::size_t>(seconds_long) * kReportsPerSecond * kPulsesPerReport;
  if (!coat || coat->pulses.size() != fed)
    give_up("the notebook has not kept what it was fed");
  return share;
}

} // namespace

int main(int argc, char** argv) {
  const int seconds_long = argc > 1 ? std::max(1, std::atoi(argv[1])) : 20;
  std::string folder = (std::filesystem::temp_directory_path() / "bench_record_XXXXXX").string();
  if (mkdtemp(folder.data()) == nullptr)
    give_up("no temporary folder");
  const double nothing = into_nothing(seconds_long);
  const double plain = into_plain_file(seconds_long, folder + "/plain.csv") - nothing;
  const double ours = into_notebook(seconds_long, folder + "/book.db") - nothing;
  std::filesystem::remove_all(folder);
  std::printf("2400 pulses/s, %d s each, of one core: notebook %.3f %%, plain text file %.3f %% "
              "(feeding alone %.3f %%)\n"
              "ratio %.1f; goal: notebook under 0.5 %%: %s\n",
              seconds_long, 100 * ours, 100 * plain, 100 * nothing, ours / plain,
              ours < 0.005 ? "met" : "NOT MET");
}
