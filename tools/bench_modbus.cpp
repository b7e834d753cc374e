// How fast a Modbus drive is polled and stopped at 19200 baud, 8E1, against what the line allows
// and against libmodbus as the master.
//
//   bench_modbus [--plain] [CYCLES [STOPS]]
//
// By default 200 cycles and 100 stops of each kind: 3 minutes, as it keeps the time of a real line;
// it says first how long it takes.
//
// A pseudo-terminal carries bytes at once, so the far end keeps the line's time: a question is
// heard when its last character would be over, the drive waits the 3.5 characters by which it knows
// a frame's end, and its reply is delivered when its own last character would be over.
//
// 1. A cycle of target, speed and fault (three questions), over the line's own time for it: all
//    characters and all silences. Goal: under 1.10.
// 2. From the request of a stop to the last character of its write, over that frame's time and
//    5 ms, at random moments of the cycle, with a drive that answers and with one that is silent.
//    Goal: never over 1. Judged is our own write: the moment at which write() has returned, and the
//    frame's time on the line. Beside it the same as the far end saw it, later by the kernel's
//    worker that carries bytes through a pseudo-terminal, which waits its turn on a busy computer
//    and which a serial port has not. A stop that goes out over a reply is sent again: beside it,
//    how long until the drive has heard one that met nothing.
// 3. The same with libmodbus, whose calls block: a stop waits for the call in flight.
//
// Our thread asks for promptness as a run's does (drive/prompt_thread.hpp), and so do libmodbus's
// and the far end's, which a drive with a processor of its own would not need; and the machine's
// processors are kept awake (awake.hpp), since ours has to wake the far end's: --plain leaves both
// out.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "awake.hpp"
#include "paced_drive.hpp"
#include "whirler/drive/prompt_thread.hpp"
#include "whirler/drive/rtu_master.hpp"

#include <boost/asio/steady_timer.hpp>
#include <modbus/modbus.h>

#include <sys/syscall.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace whirler;
using namespace whirler::bench;

/// When the first write() of a stop since the last `forget` had returned, in ns; 0: none has.
std::atomic<Clock::rep> stop_written{0};

} // namespace

/// In place of the C library's, for this program and for libmodbus: notes when a stop was written.
extern "C" ssize_t write(int descriptor, const void* bytes, size_t count) {
  static const auto stop = modbus::encode(kStop);
  const auto written = syscall(SYS_write, descriptor, bytes, count);
  Clock::rep none = 0;
  if (count == stop.size() && std::memcmp(bytes, stop.data(), count) == 0)
    stop_written.compare_exchange_strong(none, Clock::now().time_since_epoch().count());
  return written;
}

namespace {

const std::vector<modbus::Request>& questions() {
  static const std::vector<modbus::Request> all{
      modbus::write_request(kUnit, Function::write_one, 2, {1500}),
      modbus::read_request(kUnit, Function::read_input, 16, 1),
      modbus::read_request(kUnit, Function::read_input, 18, 1)};
  return all;
}

/// What the line needs for one cycle: every character, and a silence behind each frame.
Duration line_time() {
  Duration sum;
  for (const auto& question : questions())
    sum += kLine.time_of(modbus::encode(question).size() + modbus::reply_size(question)) +
           2.0 * modbus::silence(kLine);
  return sum;
}

/// Polls without end, as a run does.
class Poller {
 public:
  explicit Poller(PacedDrive& drive)
      : master_(io_, open(io_, drive), "bench", kLine, {kReplyWithin, 2}, [](const Fault&) {}) {}
  void begin() { ask(0); }
  void serve_for(Clock::duration time) { io_.run_for(time); }
  void serve_one() {
    io_.restart();
    io_.run_one_for(std::chrono::milliseconds(5));
  }
  /// As a run does: again until it is answered, or until `enough`.
  void stop() {
    master_.ask_ahead(kStop, [this](const auto& answer) { answer || enough_ ? ask(0) : stop(); });
  }
  void enough(bool is_enough) { enough_ = is_enough; }
  [[nodiscard]] int cycles() const { return cycles_; }

 private:
  static drive::SerialPort open(boost::asio::io_context& io, const PacedDrive& drive) {
    auto port = drive::SerialPort::open(io, drive.port(), kLine);
    if (!port)
      give_up("the port cannot be opened");
    return std::move(*port);
  }
  void ask(std::size_t which) {
    if (which == 0)
      ++cycles_;
    master_.ask(questions()[which],
                [this, which](const auto&) { ask((which + 1) % questions().size()); });
  }

  boost::asio::io_context io_;
  drive::RtuMaster master_;
  int cycles_ = 0;
  bool enough_ = false;
};

void measure_cycles(int cycles, bool prompt) {
  PacedDrive drive(prompt);
  Poller poller(drive);
  poller.begin();
  while (poller.cycles() < 5)
    poller.serve_one();
  const int first = poller.cycles();
  const auto begin = Clock::now();
  while (poller.cycles() < first + cycles)
    poller.serve_one();
  const double each_ms = ms_between(begin, Clock::now()) / cycles;
  const double ratio = each_ms / line_time().ms();
  std::printf(
      "cycle of 3 questions at 19200 baud: %.2f ms, the line's own time %.2f ms, ratio %.3f; "
      "goal: under 1.10: %s\n",
      each_ms, line_time().ms(), ratio, ratio < 1.10 ? "met" : "NOT MET");
}

/// What was measured of the stops of one kind, in ms.
struct Waits {
  std::vector<double> written, sent, heard;

  void add(Clock::time_point asked, const PacedDrive::Stop& stop) {
    const Clock::time_point returned{Clock::duration(stop_written.load())};
    written.push_back(ms_between(asked, returned) + kLine.time_of(8).ms());
    sent.push_back(ms_between(asked, *stop.sent));
    heard.push_back(ms_between(asked, *stop.heard));
    if (sent.size() % 10 == 0)
      std::fprintf(stderr, "  %zu stops\n", sent.size());
  }
};

/// Waits for the drive to have heard the stop; ends the benchmark where it never does.
template <class Serve>
PacedDrive::Stop await_stop(PacedDrive& drive, Serve serve) {
  const auto most = Clock::now() + std::chrono::seconds(5);
  for (;;) {
    if (const auto heard = drive.stop_heard())
      return *heard;
    if (Clock::now() > most)
      give_up("a stop was not heard in 5 s");
    serve();
  }
}

void say_figures(const char* what, std::vector<double> waits) {
  const double allowed = kLine.time_of(8).ms() + 5.0;
  std::sort(waits.begin(), waits.end());
  const auto at = [&](double share) {
    return waits[static_cast<std::size_t>(share * static_cast<double>(waits.size() - 1))];
  };
  std::printf(
      "  %s: median %.2f ms, 99 %% under %.2f ms, worst %.2f ms; over one frame and 5 ms "
      "(%.2f ms): median %.2f, 99 %% %.2f, worst %.2f; over 1: %zu of %zu\n",
      what, at(0.5), at(0.99), at(1.0), allowed, at(0.5) / allowed, at(0.99) / allowed,
      at(1.0) / allowed,
      static_cast<std::size_t>(waits.end() - std::upper_bound(waits.begin(), waits.end(), allowed)),
      waits.size());
}

void say(const char* who, const Waits& measured, int collisions) {
  std::printf("stop, %s; %d met a reply; heard whole: worst %.2f ms\n", who, collisions,
              *std::max_element(measured.heard.begin(), measured.heard.end()));
  say_figures("our write and its frame's time (judged)", measured.written);
  say_figures("as the far end saw it", measured.sent);
}

void measure_stops(int stops, bool silent, bool prompt) {
  PacedDrive drive(prompt);
  Poller poller(drive);
  poller.begin();
  std::mt19937 random(1);
  std::uniform_real_distribution<double> later_ms(60.0, 140.0);
  Waits waits;
  for (int i = 0; i < stops; ++i) {
    drive.be_silent(silent);
    poller.enough(false);
    const auto until = Clock::now() + wall(milliseconds(later_ms(random)));
    while (Clock::now() < until)
      poller.serve_for(
          std::min<Clock::duration>(until - Clock::now(), std::chrono::milliseconds(5)));
    drive.forget_stops();
    stop_written = 0;
    const auto asked = Clock::now();
    poller.stop();
    waits.add(asked, await_stop(drive, [&] { poller.serve_one(); }));
    poller.enough(true);
    drive.be_silent(false);
    poller.serve_for(std::chrono::milliseconds(250));
  }
  say(silent ? "this master, silent drive" : "this master, drive answers", waits,
      drive.collisions());
}

/// libmodbus polls in a thread; a stop is the next call after the one in flight.
class Rival {
 public:
  Rival(const PacedDrive& drive, bool prompt)
      : master_(modbus_new_rtu(drive.port().c_str(), 19200, 'E', 8, 1)) {
    modbus_set_slave(master_, kUnit);
    modbus_set_response_timeout(master_, 0, static_cast<unsigned>(kReplyWithin.us()));
    if (modbus_connect(master_) != 0)
      give_up("libmodbus cannot open the port");
    thread_ = thread_of(prompt, [this] { run(); });
  }
  ~Rival() {
    ended_ = true;
    thread_.join();
    modbus_close(master_);
    modbus_free(master_);
  }
  Rival(const Rival&) = delete;
  Rival& operator=(const Rival&) = delete;
  void stop() { stop_ = true; }

 private:
  void run() {
    std::uint16_t word = 0;
    for (int i = 0; !ended_; ++i) {
      if (stop_) // again until it is answered, as this master's
        stop_ = modbus_write_register(master_, 0, 0) != 1;
      else if (i % 3 == 0)
        modbus_write_register(master_, 2, 1500);
      else
        modbus_read_input_registers(master_, i % 3 == 1 ? 16 : 18, 1, &word);
      std::this_thread::sleep_for(wall(modbus::silence(kLine))); // it keeps none itself
    }
  }

  modbus_t* master_;
  std::atomic<bool> ended_{false};
  std::atomic<bool> stop_{false};
  std::thread thread_;
};

void measure_rival(int stops, bool silent, bool prompt) {
  PacedDrive drive(prompt);
  Rival rival(drive, prompt);
  std::mt19937 random(1);
  std::uniform_real_distribution<double> later_ms(60.0, 140.0);
  Waits waits;
  for (int i = 0; i < stops; ++i) {
    drive.be_silent(silent);
    std::this_thread::sleep_for(wall(milliseconds(later_ms(random))));
    drive.forget_stops();
    stop_written = 0;
    const auto asked = Clock::now();
    rival.stop();
    waits.add(asked, await_stop(drive, [] { usleep(1000); }));
    drive.be_silent(false);
    std::this_thread::sleep_for(std::chrono::milliseconds(150));
  }
  say(silent ? "libmodbus, silent drive" : "libmodbus, drive answers", waits, drive.collisions());
}

} // namespace

static const char* to_text(drive::PromptThread::Granted granted) {
  switch (granted) {
  case drive::PromptThread::Granted::real_time:
    return "real time";
  case drive::PromptThread::Granted::short_turns:
    return "short turns";
  case drive::PromptThread::Granted::nothing:
    break;
  }
  return "nothing";
}

int main(int argc, char** argv) {
  std::setvbuf(stdout, nullptr, _IOLBF, BUFSIZ); // minutes lie between its lines
  const bool plain = argc > 1 && std::string(argv[1]) == "--plain";
  const int first = plain ? 2 : 1;
  const int cycles = argc > first ? std::atoi(argv[first]) : 200;
  const int stops = argc > first + 1 ? std::atoi(argv[first + 1]) : 100;
  if (cycles < 1 || stops < 1)
    give_up("bench_modbus [--plain] [CYCLES [STOPS]], both at least 1");
  // A cycle lasts 40 ms; a stop's turn 0.25 to 0.45 s, in each of four kinds.
  std::printf("takes about %.0f s\n", 0.04 * cycles + 4 * 0.35 * stops + 5);
  std::optional<AwakeProcessors> awake;
  std::optional<drive::PromptThread> prompt;
  if (!plain) {
    awake.emplace(); // ahead of the promptness, which its threads must not have
    prompt.emplace();
  }
  std::printf("promptness: %s; processors %s\n",
              plain ? "not asked for" : to_text(prompt->granted()),
              plain ? "as they are" : "kept awake");
  measure_cycles(cycles, !plain);
  for (const bool silent : {false, true}) {
    measure_stops(stops, silent, !plain);
    measure_rival(stops, silent, !plain);
  }
}
