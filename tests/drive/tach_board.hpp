// A board that counts marks and drives nothing, for tests: greets, reports and sends pulses of a
// shaft whose speed the test lends it.
#pragma once

#include "pty_pair.hpp"
#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"

#include <atomic>
#include <chrono>
#include <functional>
#include <numbers>
#include <thread>

namespace whirler::test {

class TachBoard {
 public:
  /// `rpm`: of the shaft, now. Asked from another thread.
  explicit TachBoard(std::function<double()> rpm, bool tach_only = true)
      : rpm_(std::move(rpm)), tach_only_(tach_only), thread_([this] { run(); }) {}
  ~TachBoard() {
    ended_ = true;
    thread_.join();
  }
  TachBoard(const TachBoard&) = delete;
  TachBoard& operator=(const TachBoard&) = delete;
  [[nodiscard]] const std::string& port() const { return line_.path(); }
  std::atomic<bool> silent{false};
  std::atomic<bool> blind{false}; ///< the sensor sees no marks any more

  static constexpr int kMarks = 6;

 private:
  using Clock = std::chrono::steady_clock;

  void run() {
    while (!ended_) {
      pollfd ready{line_.far_end(), POLLIN, 0};
      if (poll(&ready, 1, 2) == 1 && (ready.revents & POLLIN) != 0)
        decoder_.feed(line_.read(0), [this](const link::Frame& frame) { hear(frame); });
      turn();
    }
  }
  void hear(const link::Frame& frame) {
    const auto decoded = link::decode_host(frame);
    const auto* message = std::get_if<link::HostMessage>(&decoded);
    if (message == nullptr)
      return;
    if (const auto* hello = std::get_if<link::Hello>(message)) {
      link::HelloReply reply;
      reply.nonce = hello->nonce;
      reply.marks_per_turn = kMarks;
      reply.tach_only = tach_only_;
      reply.max_segments = 32;
      reply.still_after = seconds(1);
      reply.name = "counter";
      greeted_ = true;
      send(reply);
    }
  }
  void send(const link::DriverMessage& message) {
    const auto bytes = link::encode(message, seq_++);
    if (!silent)
      (void)!::write(line_.far_end(), bytes.data(), bytes.size());
  }
  /// One step of the shaft: marks that pass become pulses, and every 20 ms a report.
  void turn() {
    const auto now = Clock::now();
    const double dt = std::chrono::duration<double>(now - last_).count();
    const double step = blind ? 0.0 : rpm_() / 60.0 * kMarks * dt;
    link::Pulses batch;
    double previous = 0.0;
    while (marks_ + 1.0 <= angle_ + step) {
      marks_ += 1.0;
      const double at_s = std::chrono::duration<double>(last_ - began_).count() +
                          dt * (step > 0.0 ? (marks_ - angle_) / step : 0.0);
      const double tick = at_s / 0.5e-6;
      if (batch.deltas.empty() && previous == 0.0) {
        batch.first_tick = static_cast<std::uint32_t>(tick);
        batch.clock_ms = static_cast<std::uint32_t>(1e3 * at_s);
        batch.pulses_before = pulses_;
      } else {
        batch.deltas.push_back(static_cast<std::uint32_t>(tick) -
                               static_cast<std::uint32_t>(previous));
      }
      previous = tick;
      ++pulses_;
      passed_ = now;
    }
    angle_ += step;
    last_ = now;
    if (previous != 0.0 && greeted_) {
      batch.batch = batches_++;
      send(batch);
    }
    if (greeted_ && now - reported_ > std::chrono::milliseconds(20))
      report(now);
  }
  void report(Clock::time_point now) {
    reported_ = now;
    link::Status status;
    status.report = reports_++;
    status.still = now - passed_ > std::chrono::milliseconds(400);
    status.measured = rpm(blind || status.still ? 0.0 : rpm_());
    status.clock_ms = static_cast<std::uint32_t>(
        std::chrono::duration_cast<std::chrono::milliseconds>(now - began_).count());
    status.pulses = pulses_;
    send(status);
  }

  PtyPair line_;
  std::function<double()> rpm_;
  bool tach_only_;
  link::Decoder decoder_;
  Clock::time_point began_ = Clock::now(), last_ = began_, passed_{}, reported_{};
  double angle_ = 0.0, marks_ = 0.0;
  std::uint32_t pulses_ = 0;
  std::uint16_t batches_ = 0, reports_ = 0;
  std::uint8_t seq_ = 0;
  std::atomic<bool> greeted_{false};
  std::atomic<bool> ended_{false};
  std::thread thread_; // last: starts when all else is there
};

} // namespace whirler::test
