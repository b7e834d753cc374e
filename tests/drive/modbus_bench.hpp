// A Modbus drive for tests: libmodbus's own server in a thread, a motor behind its registers, and a
// bridge of two pseudo-terminals between it and the host, which can spoil what passes.
#pragma once

#include "catch.hpp"
#include "pty_pair.hpp"
#include "whirler/drive/prompt_thread.hpp"
#include "whirler/modbus/description.hpp"

#include <modbus/modbus.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <functional>
#include <mutex>
#include <poll.h>
#include <thread>
#include <vector>

namespace whirler::test {

using Bytes = std::vector<std::uint8_t>;
using TestClock = std::chrono::steady_clock;

inline double seconds_since(TestClock::time_point then) {
  return std::chrono::duration<double>(TestClock::now() - then).count();
}

/// Carries bytes both ways; a reply (all that one read brings) may be changed, held back or lost.
class Bridge {
 public:
  /// What becomes of a reply; may change it and wait. An empty one is lost.
  using Spoil = std::function<Bytes(Bytes)>;

  // Line and drive have processors of their own: neither waits for a turn of this computer's.
  Bridge()
      : thread_([this] {
          const drive::PromptThread prompt;
          run();
        }) {}
  ~Bridge() {
    ended_ = true;
    thread_.join();
  }
  [[nodiscard]] const std::string& host_port() const { return host_.path(); }
  [[nodiscard]] const std::string& drive_port() const { return drive_.path(); }
  void spoil(Spoil with) {
    const std::lock_guard lock(guard_);
    spoil_ = std::move(with);
  }
  /// What the host has sent since the last call.
  [[nodiscard]] Bytes heard_from_host() {
    const std::lock_guard lock(guard_);
    return std::exchange(from_host_, {});
  }

 private:
  void run() {
    pollfd ends[2] = {{host_.far_end(), POLLIN, 0}, {drive_.far_end(), POLLIN, 0}};
    while (!ended_) {
      poll(ends, 2, 5);
      if ((ends[0].revents & POLLIN) != 0)
        carry(host_.far_end(), drive_.far_end(), true);
      if ((ends[1].revents & POLLIN) != 0)
        carry(drive_.far_end(), host_.far_end(), false);
      if (((ends[0].revents | ends[1].revents) & POLLHUP) != 0)
        std::this_thread::sleep_for(std::chrono::milliseconds(2)); // nobody has it open yet
    }
  }
  void carry(int from, int to, bool of_host) {
    Bytes bytes(512);
    const auto count = ::read(from, bytes.data(), bytes.size());
    if (count <= 0)
      return;
    bytes.resize(static_cast<std::size_t>(count));
    Spoil with;
    {
      const std::lock_guard lock(guard_);
      if (of_host)
        from_host_.insert(from_host_.end(), bytes.begin(), bytes.end());
      else
        with = spoil_;
    }
    if (with)
      bytes = with(std::move(bytes));
    if (!bytes.empty())
      (void)!::write(to, bytes.data(), bytes.size());
  }

  PtyPair host_, drive_;
  std::atomic<bool> ended_{false};
  std::mutex guard_;
  Spoil spoil_;
  Bytes from_host_;
  std::thread thread_;
};

/// How the drive behaves, besides well.
struct DriveHabits {
  std::atomic<bool> has_dead_man{true};
  std::atomic<bool> obeys_stop{true};
  std::atomic<double> trips_at_rpm{1e9}; ///< over current once it is so fast
  std::atomic<int> refuses_register{-1}; ///< exception 02 for this address
  std::atomic<bool> stuck{false};        ///< the shaft does not turn
  std::atomic<bool> lets_go{true};       ///< else it says "running" for ever once it has run
  std::atomic<bool> restarts{false};     ///< after its dead-man, at the next word
  std::atomic<double> gain{1.0};         ///< of what it is asked for it turns so much, and says so
  std::atomic<double> coast_rpm_s{4000}; ///< after its dead-man
  std::atomic<int> busy{0};              ///< so many questions more meet exception 06
};

/// Registers of profiles/drives/sedge.json. Holding: 0 run, 1 direction, 2 target rpm, 3 reset,
/// 4 time-out in 0.1 s. Input: 16 speed rpm, 17 running, 18 fault.
class LibmodbusDrive {
 public:
  LibmodbusDrive(const std::string& port, int unit)
      : context_(modbus_new_rtu(port.c_str(), 19200, 'E', 8, 1)),
        map_(modbus_mapping_new(0, 0, 64, 64)) {
    REQUIRE(context_ != nullptr);
    REQUIRE(map_ != nullptr);
    modbus_set_slave(context_, unit);
    modbus_set_indication_timeout(context_, 0, 5000);
    REQUIRE(modbus_connect(context_) == 0);
    thread_ = std::thread([this] {
      const drive::PromptThread prompt;
      run();
    });
  }
  ~LibmodbusDrive() {
    ended_ = true;
    thread_.join();
    modbus_close(context_);
    modbus_free(context_);
    modbus_mapping_free(map_);
  }
  LibmodbusDrive(const LibmodbusDrive&) = delete;
  LibmodbusDrive& operator=(const LibmodbusDrive&) = delete;

  [[nodiscard]] double speed_rpm() const { return shown_rpm_; }
  [[nodiscard]] double top_rpm() const { return top_rpm_; }
  [[nodiscard]] int direction() const { return direction_; }
  [[nodiscard]] bool running() const { return running_; }
  [[nodiscard]] int fault() const { return fault_; }
  [[nodiscard]] bool turned_after_trip() const { return turned_after_trip_; }
  DriveHabits habits;

 private:
  void run() {
    while (!ended_) {
      std::uint8_t query[MODBUS_RTU_MAX_ADU_LENGTH];
      const int length = modbus_receive(context_, query);
      if (length > 0) {
        spoken_ = TestClock::now();
        answer(query, length);
      }
      turn();
    }
  }
  void answer(const std::uint8_t* query, int length) {
    const int address = (query[2] << 8) | query[3];
    if (address == habits.refuses_register) {
      modbus_reply_exception(context_, query, MODBUS_EXCEPTION_ILLEGAL_DATA_ADDRESS);
      return;
    }
    if (habits.busy > 0) {
      --habits.busy;
      modbus_reply_exception(context_, query, MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY);
      return;
    }
    turn();
    modbus_reply(context_, query, length, map_);
    if (map_->tab_registers[3] == 1) {
      map_->tab_input_registers[18] = 0;
      map_->tab_registers[3] = 0;
      map_->tab_registers[0] = 0;
    }
  }
  void turn() {
    const auto now = TestClock::now();
    const double dt = std::chrono::duration<double>(now - last_).count();
    last_ = now;
    auto& run_word = map_->tab_registers[0];
    auto& fault = map_->tab_input_registers[18];
    const double limit_s = 0.1 * map_->tab_registers[4];
    const bool unheard =
        limit_s > 0 && std::chrono::duration<double>(now - spoken_).count() > limit_s;
    const bool asleep = unheard && habits.restarts;
    if (run_word != 0 && unheard && habits.has_dead_man && !asleep)
      fault = 0x10;
    if (run_word != 0 && rpm_ > habits.trips_at_rpm)
      fault = 0x01;
    if (fault != 0)
      run_word = 0;
    const bool on = (run_word != 0 || !habits.obeys_stop) && !habits.stuck && fault == 0 && !asleep;
    const double goal = on ? habits.gain * map_->tab_registers[2] : 0.0;
    const double slows = fault == 0x10 ? habits.coast_rpm_s.load() : 4000.0;
    const double step = (on ? 20000.0 : slows) * dt;
    has_run_ = has_run_ || run_word != 0;
    rpm_ = rpm_ < goal ? std::min(goal, rpm_ + step) : std::max(goal, rpm_ - step);
    map_->tab_input_registers[16] = static_cast<std::uint16_t>(rpm_);
    map_->tab_input_registers[17] = run_word != 0 || (has_run_ && !habits.lets_go) ? 1 : 0;
    shown_rpm_ = rpm_;
    top_rpm_ = std::max<double>(top_rpm_, rpm_);
    direction_ = map_->tab_registers[1];
    running_ = run_word != 0;
    fault_ = fault;
  }

  modbus_t* context_;
  modbus_mapping_t* map_;
  std::atomic<bool> ended_{false};
  TestClock::time_point spoken_ = TestClock::now();
  TestClock::time_point last_ = TestClock::now();
  double rpm_ = 0.0;
  bool has_run_ = false;
  std::atomic<double> shown_rpm_{0.0};
  std::atomic<double> top_rpm_{0.0};
  std::atomic<int> direction_{0};
  std::atomic<bool> running_{false};
  std::atomic<int> fault_{0};
  std::atomic<bool> turned_after_trip_{false};
  std::thread thread_;
};

/// The description of the drive above. `from`: what its speed is.
inline modbus::Description plain_drive(modbus::SpeedSource from = modbus::SpeedSource::encoder) {
  using namespace modbus;
  const auto holding = [](std::uint16_t at) {
    return Cell{at, DataType::u16, WordOrder::high_first, Function::write_one};
  };
  const auto input = [](std::uint16_t at) {
    return Cell{at, DataType::u16, WordOrder::high_first, Function::read_input};
  };
  Description drive;
  drive.name = "reed";
  drive.unit = 3;
  drive.reply_within = milliseconds(100); // a busy computer is late by as much as some drives
  drive.target = {holding(2), rpm(1), rpm(0)};
  drive.actual = {input(16), rpm(1), rpm(0)};
  drive.actual_from = from;
  drive.direction = Direction{holding(1), 0, 1, true};
  drive.fault = {input(18), 0x1F, {{0, "over current"}, {4, "nobody spoke to the drive in time"}}};
  drive.running = RunningTest{input(17), 1, 1};
  drive.dead_man = DeadMan{milliseconds(500), Scaled<Duration>{holding(4), seconds(0.1), {}}};
  drive.limits = {rpm(3000), rpm(100), rpm_per_s(4000)};
  drive.clear = {WriteStep{holding(3), 1}, WaitStep{input(18), 0x1F, 0, seconds(1)}};
  drive.start = {WriteStep{holding(0), 1}, WaitStep{input(17), 1, 1, seconds(1)}};
  drive.stop = {WriteStep{holding(0), 0}};
  return drive;
}

} // namespace whirler::test
