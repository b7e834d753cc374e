// The far end of bench_modbus: a drive that keeps the time of a real line on a pseudo-terminal,
// which carries bytes at once.
#pragma once

#include "whirler/drive/prompt_thread.hpp"
#include "whirler/modbus/frame.hpp"

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
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace whirler::bench {

using Clock = std::chrono::steady_clock;
using modbus::Function;

inline constexpr LineFormat kLine{19200, Parity::even, 1};
inline constexpr Duration kReplyWithin = milliseconds(100);
inline constexpr std::uint8_t kUnit = 1;

[[noreturn]] inline void give_up(const char* why) {
  std::fprintf(stderr, "bench_modbus: %s\n", why);
  std::exit(1);
}

inline Clock::duration wall(Duration time) {
  return std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(time.s()));
}

inline double ms_between(Clock::time_point from, Clock::time_point to) {
  return std::chrono::duration<double, std::milli>(to - from).count();
}

inline const modbus::Request kStop = modbus::write_request(kUnit, Function::write_one, 0, {0});

/// `prompt`: woken as soon as this system can.
template <class Run>
std::thread thread_of(bool prompt, Run run) {
  return std::thread([prompt, run] {
    std::optional<drive::PromptThread> asked;
    if (prompt)
      asked.emplace();
    run();
  });
}

/// The drive's end of the line, in the line's time.
class PacedDrive {
 public:
  /// `prompt`: woken as soon as this system can, since a drive of its own is not kept waiting by
  /// it.
  explicit PacedDrive(bool prompt) : end_(posix_openpt(O_RDWR | O_NOCTTY)) {
    if (end_ < 0 || grantpt(end_) != 0 || unlockpt(end_) != 0)
      give_up("no pseudo-terminal");
    port_ = ptsname(end_);
    thread_ = thread_of(prompt, [this] { run(); });
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

} // namespace whirler::bench
