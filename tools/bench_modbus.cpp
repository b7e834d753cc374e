// How fast a Modbus drive is polled and stopped at 19200 baud, 8E1, against what the line allows
// and against libmodbus as the master.
//
//   bench_modbus [CYCLES [STOPS]]      default 200 cycles, 100 stops of each kind: 3 minutes, as it
//                                      keeps the time of a real line; says first how long it takes
//
// A pseudo-terminal carries bytes at once, so the far end keeps the line's time: a question is
// heard when its last character would be over, the drive waits the 3.5 characters by which it knows
// a frame's end, and its reply is delivered when its own last character would be over.
//
// 1. A cycle of target, speed and fault (three questions), over the line's own time for it: all
//    characters and all silences. Goal: under 1.10.
// 2. From the request of a stop to the last character of its write, over that frame's time and
//    5 ms, at random moments of the cycle, with a drive that answers and with one that is silent.
//    Goal: never over 1. A stop that goes out over a reply is sent again: beside it, how long until
//    the drive has heard one that met nothing.
// 3. The same with libmodbus, whose calls block: a stop waits for the call in flight.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "whirler/drive/rtu_master.hpp"

#include <boost/asio/steady_timer.hpp>
#include <modbus/modbus.h>

#include <fcntl.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <mutex>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <vector>

namespace {

using namespace whirler;
using Clock = std::chrono::steady_clock;
using modbus::Function;

constexpr LineFormat kLine{19200, Parity::even, 1};
constexpr Duration kReplyWithin = milliseconds(100);
constexpr std::uint8_t kUnit = 1;

[[noreturn]] void give_up(const char* why) {
  std::fprintf(stderr, "bench_modbus: %s\n", why);
  std::exit(1);
}

Clock::duration wall(Duration time) {
  return std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(time.s()));
}

double ms_between(Clock::time_point from, Clock::time_point to) {
  return std::chrono::duration<double, std::milli>(to - from).count();
}

const modbus::Request kStop = modbus::write_request(kUnit, Function::write_one, 0, {0});

/// The drive's end of the line, in the line's time.
class PacedDrive {
 public:
  PacedDrive() : end_(posix_openpt(O_RDWR | O_NOCTTY)) {
    if (end_ < 0 || grantpt(end_) != 0 || unlockpt(end_) != 0)
      give_up("no pseudo-terminal");
    port_ = ptsname(end_);
    thread_ = std::thread([this] { run(); });
  }
  ~PacedDrive() {
    ended_ = true;
    thread_.join();
    ::close(end_);
  }
  PacedDrive(const PacedDrive&) = delete;
  PacedDrive& operator=(const PacedDrive&) = delete;

  [[nodiscard]] const std::string& port() const { return port_; }
  void be_silent(bool silent) { silent_ = silent; }
  [[nodiscard]] int collisions() const { return collisions_; }
  /// Those that were sent again after one had been heard.
  void forget_stops() {
    const std::lock_guard lock(guard_);
    stop_ = {};
  }
  /// When the last character of the first stop was over, and of the first that met no reply: once
  /// both have been.
  struct Stop {
    std::optional<Clock::time_point> sent, heard;
  };
  [[nodiscard]] std::optional<Stop> stop_heard() {
    const std::lock_guard lock(guard_);
    if (!stop_.heard)
      return std::nullopt;
    return std::exchange(stop_, {});
  }

 private:
  struct Due {
    Clock::time_point at;
    std::vector<std::uint8_t> bytes;
  };

  void run() {
    while (!ended_) {
      wait();
      std::vector<std::uint8_t> bytes(256);
      pollfd ready{end_, POLLIN, 0};
      if (poll(&ready, 1, 0) == 1 && (ready.revents & POLLIN) != 0) {
        const auto count = ::read(end_, bytes.data(), bytes.size());
        bytes.resize(count > 0 ? static_cast<std::size_t>(count) : 0);
        hear(bytes);
      }
      if (due_ && Clock::now() >= due_->at) {
        (void)!::write(end_, due_->bytes.data(), due_->bytes.size());
        due_.reset();
      }
    }
  }
  /// Until something comes in or is due; the last 200 us without sleeping.
  void wait() {
    const auto left = due_ ? ms_between(Clock::now(), due_->at) - 0.2 : 5.0;
    pollfd ready{end_, POLLIN, 0};
    const timespec most{0, static_cast<long>(std::clamp(left, 0.0, 5.0) * 1e6)};
    if (ppoll(&ready, 1, &most, nullptr) > 0 && (ready.revents & POLLIN) == 0)
      usleep(1000); // nobody has the port open yet
  }
  void hear(const std::vector<std::uint8_t>& bytes) {
    const auto now = Clock::now();
    // Nothing but the character that makes a question void stands in line behind it: what else
    // comes before its end comes after it was cut off.
    const auto begin = bytes.size() == 1 ? std::max(now, over_) : now;
    const auto over = begin + wall(kLine.time_of(bytes.size()));
    // It talks, or is about to; before that what comes behind a question makes the question void.
    // It is heard when the first character is over.
    const bool met = due_ && begin + wall(kLine.time_of(1)) >= over_ + wall(modbus::silence(kLine));
    collisions_ += met ? 1 : 0;
    due_.reset();
    over_ = over;
    const auto stop = modbus::encode(kStop);
    if (bytes.size() >= stop.size() && std::equal(stop.rbegin(), stop.rend(), bytes.rbegin())) {
      const std::lock_guard lock(guard_);
      stop_.sent = stop_.sent.value_or(over);
      if (!met && !stop_.heard)
        stop_.heard = over;
    }
    if (silent_ || met || bytes.size() != 8)
      return;
    const auto word = [&](std::size_t at) {
      return static_cast<std::uint16_t>((bytes[at] << 8U) | bytes[at + 1]);
    };
    const auto function = static_cast<Function>(bytes[1]);
    const bool reads = modbus::is_read(function);
    const auto request = reads ? modbus::read_request(kUnit, function, word(2), word(4))
                               : modbus::write_request(kUnit, function, word(2), {word(4)});
    auto reply = modbus::encode_reply(request, std::vector<std::uint16_t>(reads ? word(4) : 0U));
    due_ = Due{over + wall(modbus::silence(kLine) + kLine.time_of(reply.size())), std::move(reply)};
  }

  int end_;
  std::string port_;
  std::atomic<bool> ended_{false};
  std::atomic<bool> silent_{false};
  std::atomic<int> collisions_{0};
  std::mutex guard_;
  Stop stop_;
  std::optional<Due> due_;
  Clock::time_point over_{}; ///< the last question's last character
  std::thread thread_;
};

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

void measure_cycles(int cycles) {
  PacedDrive drive;
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
  std::vector<double> sent, heard;

  void add(Clock::time_point asked, const PacedDrive::Stop& stop) {
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

void say(const char* who, Waits measured, int collisions) {
  auto& waits = measured.sent;
  std::sort(waits.begin(), waits.end());
  std::sort(measured.heard.begin(), measured.heard.end());
  const double allowed = kLine.time_of(8).ms() + 5.0;
  const auto at = [&](double share) {
    return waits[static_cast<std::size_t>(share * static_cast<double>(waits.size() - 1))];
  };
  std::printf(
      "stop, %s: median %.2f ms, 99 %% under %.2f ms, worst %.2f ms; over one frame and 5 ms "
      "(%.2f ms): median %.2f, 99 %% %.2f, worst %.2f; %d met a reply; heard whole: worst %.2f "
      "ms\n",
      who, at(0.5), at(0.99), at(1.0), allowed, at(0.5) / allowed, at(0.99) / allowed,
      at(1.0) / allowed, collisions, measured.heard.back());
}

void measure_stops(int stops, bool silent) {
  PacedDrive drive;
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
  explicit Rival(const PacedDrive& drive)
      : master_(modbus_new_rtu(drive.port().c_str(), 19200, 'E', 8, 1)) {
    modbus_set_slave(master_, kUnit);
    modbus_set_response_timeout(master_, 0, static_cast<unsigned>(kReplyWithin.us()));
    if (modbus_connect(master_) != 0)
      give_up("libmodbus cannot open the port");
    thread_ = std::thread([this] { run(); });
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
      if (stop_.exchange(false))
        modbus_write_register(master_, 0, 0);
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

void measure_rival(int stops, bool silent) {
  PacedDrive drive;
  Rival rival(drive);
  std::mt19937 random(1);
  std::uniform_real_distribution<double> later_ms(60.0, 140.0);
  Waits waits;
  for (int i = 0; i < stops; ++i) {
    drive.be_silent(silent);
    std::this_thread::sleep_for(wall(milliseconds(later_ms(random))));
    drive.forget_stops();
    const auto asked = Clock::now();
    rival.stop();
    waits.add(asked, await_stop(drive, [] { usleep(1000); }));
    drive.be_silent(false);
    std::this_thread::sleep_for(std::chrono::milliseconds(150));
  }
  say(silent ? "libmodbus, silent drive" : "libmodbus, drive answers", waits, drive.collisions());
}

} // namespace

int main(int argc, char** argv) {
  std::setvbuf(stdout, nullptr, _IOLBF, BUFSIZ); // minutes lie between its lines
  const int cycles = argc > 1 ? std::atoi(argv[1]) : 200;
  const int stops = argc > 2 ? std::atoi(argv[2]) : 100;
  if (cycles < 1 || stops < 1)
    give_up("bench_modbus [CYCLES [STOPS]], both at least 1");
  // A cycle lasts 40 ms; a stop's turn 0.25 to 0.45 s, in each of four kinds.
  std::printf("takes about %.0f s\n", 0.04 * cycles + 4 * 0.35 * stops + 5);
  measure_cycles(cycles);
  for (const bool silent : {false, true}) {
    measure_stops(stops, silent);
    measure_rival(stops, silent);
  }
}
