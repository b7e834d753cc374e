#include "whirler/drive/simulated_drive.hpp"

#include "whirler/drive/pseudo_terminal.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <mutex>
#include <optional>
#include <sys/eventfd.h>
#include <thread>
#include <unistd.h>
#include <utility>

namespace whirler::drive {
namespace {

using WallClock = std::chrono::steady_clock;

constexpr Duration kSlice = milliseconds(2.0); // of the wall's time, between looks at the port
constexpr Duration kMakesUpFor = milliseconds(50.0); // of the wall's time, when the thread was late
constexpr Duration kSimulatedStep = milliseconds(1.0);
constexpr Duration kWaitsAfter = milliseconds(100.0); // of the driver's time without a keep-alive
constexpr Duration kWaitsFor = seconds(2.0); // of the wall's: a busy machine is no dead host
constexpr double kMostSpeedUp = 100.0;

Duration between(WallClock::time_point from, WallClock::time_point to) {
  return seconds(std::chrono::duration<double>(to - from).count());
}

} // namespace

struct SimulatedDrive::Thread {
  Thread(SimulationOptions given, PseudoTerminal terminal)
      : options(std::move(given)), pty(std::move(terminal)), driver(options.setup),
        port(pty->name()), shown(driver.truth()), wake(eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {}
  ~Thread() {
    ended = true;
    eventfd_write(wake, 1);
    if (thread.joinable())
      thread.join();
    ::close(wake);
  }

  void run();
  void serve();
  void show();
  void follow_cable();
  void pass(Duration wall);
  [[nodiscard]] bool waits_for_host();
  void tell(const std::string& line) const {
    if (options.on_event)
      options.on_event(line);
  }
  void tell_changes();

  SimulationOptions options;
  std::optional<PseudoTerminal> pty; ///< none while the cable is pulled
  plant::SimulatedDriver driver;
  mutable std::mutex guard; ///< of `port` and `shown`
  std::string port;
  plant::Truth shown;
  int wake;
  std::atomic<bool> ended{false};
  WallClock::time_point last = WallClock::now();
  std::optional<WallClock::time_point> waiting_since;
  link::DriverState told_state = link::DriverState::latched;
  link::Latch told_latch = link::Latch::power_up;
  std::thread thread;
};

void SimulatedDrive::Thread::run() {
  while (!ended) {
    if (pty)
      pty->wait(kSlice, wake);
    else
      std::this_thread::sleep_for(std::chrono::duration<double>(kSlice.s()));
    serve();
  }
}

void SimulatedDrive::Thread::serve() {
  if (pty) {
    if (pty->client_came()) {
      tell("a host opened the port");
      if (options.resets_on_open)
        driver.reset(link::Latch::external_reset);
    }
    driver.receive(pty->read());
  }
  const auto now = WallClock::now();
  pass(std::min(between(last, now), kMakesUpFor));
  last = now;
  const auto said = driver.take_output();
  show(); // before a host can have heard of it
  follow_cable();
  if (pty)
    pty->write(said);
  tell_changes();
}

void SimulatedDrive::Thread::show() {
  const std::lock_guard lock(guard);
  shown = driver.truth();
}

/// Lets the spinner's time pass for this much of the wall's.
void SimulatedDrive::Thread::pass(Duration wall) {
  Duration owed = options.speed_up * wall;
  while (owed > seconds(0.0) && !waits_for_host()) {
    const Duration step = std::min(owed, kSimulatedStep);
    driver.advance(step);
    owed -= step;
  }
}

bool SimulatedDrive::Thread::waits_for_host() {
  if (options.speed_up <= 1.0 || driver.unfed() < kWaitsAfter) {
    waiting_since.reset();
    return false;
  }
  if (!waiting_since)
    waiting_since = WallClock::now();
  return between(*waiting_since, WallClock::now()) < kWaitsFor;
}

void SimulatedDrive::Thread::follow_cable() {
  if (driver.plugged() == pty.has_value())
    return;
  if (!driver.plugged()) {
    tell("the cable is pulled: the port is gone");
    pty.reset();
    return;
  }
  auto again = PseudoTerminal::open(options.link);
  if (!again)
    return; // the next step tries again
  pty = std::move(again).value();
  {
    const std::lock_guard lock(guard);
    port = pty->name();
  }
  tell("the cable is back: " + pty->name());
}

void SimulatedDrive::Thread::tell_changes() {
  const plant::Truth now = driver.truth();
  if (now.state == told_state && now.latch == told_latch)
    return;
  told_state = now.state;
  told_latch = now.latch;
  std::string line = number_text(now.at.s(), 6) + " s: " + to_text(now.state);
  if (now.latch != link::Latch::none)
    line += ", " + to_text(now.latch);
  tell(line + ", at " + number_text(now.speed.rpm(), 4) + " rpm");
}

SimulatedDrive::SimulatedDrive(std::unique_ptr<Thread> thread) : thread_(std::move(thread)) {}
SimulatedDrive::SimulatedDrive(SimulatedDrive&&) noexcept = default;
SimulatedDrive& SimulatedDrive::operator=(SimulatedDrive&&) noexcept = default;
SimulatedDrive::~SimulatedDrive() = default;

Result<SimulatedDrive> SimulatedDrive::start(SimulationOptions options) {
  if (!(options.speed_up >= 1.0 && options.speed_up <= kMostSpeedUp))
    return Fault{FaultKind::command_line,
                 "a speed-up of " + number_text(options.speed_up, 6) + " is not possible", "",
                 "give 1 to " + number_text(kMostSpeedUp)};
  auto terminal = PseudoTerminal::open(options.link);
  if (!terminal)
    return terminal.fault();
  auto thread = std::make_unique<Thread>(std::move(options), std::move(terminal).value());
  thread->thread = std::thread([running = thread.get()] { running->run(); });
  return SimulatedDrive(std::move(thread));
}

std::string SimulatedDrive::port() const {
  const std::lock_guard lock(thread_->guard);
  return thread_->port;
}

plant::Truth SimulatedDrive::truth() const {
  const std::lock_guard lock(thread_->guard);
  return thread_->shown;
}

} // namespace whirler::drive
