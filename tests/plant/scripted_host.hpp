// A host of a few lines that talks to a simulated driver in hand-ticked time: greets, uploads,
// starts, keeps alive, and keeps everything it hears.
#pragma once

#include "whirler/link/pulse_unwrapper.hpp"
#include "whirler/plant/simulated_driver.hpp"

#include <functional>
#include <optional>
#include <vector>

namespace whirler::plant {

inline link::Segment segment(std::uint8_t index, double target_rpm, double slope_rpm_s,
                             double dwell_s) {
  return {index, rpm(target_rpm), rpm_per_s(slope_rpm_s), seconds(dwell_s)};
}

struct Program {
  std::vector<link::Segment> segments{segment(0, 3000, 1500, 5)};
  Ramp stop_slope = rpm_per_s(1000);
  Speed ceiling = rpm(6000);
  bool lid_confirmed = false;
  std::uint32_t token = 77;

  [[nodiscard]] link::Start start() const {
    return {static_cast<std::uint8_t>(segments.size()),
            stop_slope,
            lid_confirmed,
            ceiling,
            link::program_crc(segments),
            token};
  }
};

class ScriptedHost {
 public:
  explicit ScriptedHost(const Setup& setup) : driver(setup) {}

  /// Lets time pass in 1 ms steps, reading and keeping alive as it goes.
  void wait(Duration time) {
    const auto steps = static_cast<int>(time.ms() + 0.5);
    for (int i = 0; i < steps; ++i) {
      driver.advance(milliseconds(1));
      listen();
      if (keeps_alive && ++since_alive_ >= 20) {
        since_alive_ = 0;
        say(link::KeepAlive{last_report});
      }
    }
  }
  /// Waits until `true`, at most `most`; false when that time has passed.
  bool wait_until(const std::function<bool()>& reached, Duration most) {
    for (Duration waited; waited < most; waited += milliseconds(1)) {
      if (reached())
        return true;
      wait(milliseconds(1));
    }
    return reached();
  }

  void say(const link::HostMessage& message) { driver.receive(link::encode(message, seq_++)); }
  void say_raw(std::span<const std::uint8_t> bytes) { driver.receive(bytes); }
  void stop(link::StopKind kind) { say_raw(link::stop_sequence(kind)); }

  /// As the protocol page has it: the same bytes again after 200 ms, at most 5 times. The answer,
  /// or nothing.
  std::optional<link::DriverMessage> ask(const link::HostMessage& message) {
    const std::uint8_t seq = seq_++;
    const auto bytes = link::encode(message, seq);
    for (int round = 0; round < 6; ++round) {
      answer_.reset();
      waits_for_ = seq;
      driver.receive(bytes);
      for (int ms = 0; ms < 200; ++ms) {
        listen();
        if (answer_)
          return answer_;
        wait(milliseconds(1));
      }
    }
    return std::nullopt;
  }
  bool accepts(const link::HostMessage& message) {
    const auto answer = ask(message);
    return answer && std::holds_alternative<link::Ack>(*answer);
  }
  std::optional<link::Nak> refusal(const link::HostMessage& message) {
    const auto answer = ask(message);
    if (!answer || !std::holds_alternative<link::Nak>(*answer))
      return std::nullopt;
    return std::get<link::Nak>(*answer);
  }

  /// Says hello, and waits for a report or two.
  bool greet() {
    const bool answered = ask(link::Hello{1, 1, 4711}).has_value();
    wait(milliseconds(25));
    return answered && hello.has_value();
  }
  bool upload(const Program& program) {
    for (const auto& s : program.segments)
      if (!accepts(s))
        return false;
    return true;
  }
  /// Hello, clear, program, start; then reads the report that says so.
  bool begin(const Program& program) {
    const bool begun =
        greet() && accepts(link::Clear{}) && upload(program) && accepts(program.start());
    wait(milliseconds(2));
    return begun;
  }
  [[nodiscard]] bool turning() const {
    return driver.truth().enabled || driver.truth().command > 0.0;
  }

  SimulatedDriver driver;
  bool keeps_alive = true;
  std::optional<link::HelloReply> hello;
  std::vector<link::Status> reports;
  std::vector<link::Pulses> batches;
  std::vector<link::Nak> naks;
  std::uint16_t last_report = 0;
  link::Decoder decoder;

 private:
  void listen() {
    for (const auto& frame : decoder.feed(driver.take_output())) {
      const auto read = link::decode_driver(frame);
      if (const auto* message = std::get_if<link::DriverMessage>(&read))
        take(*message);
    }
  }
  void take(const link::DriverMessage& message) {
    if (const auto* status = std::get_if<link::Status>(&message)) {
      reports.push_back(*status);
      last_report = status->report;
    } else if (const auto* pulses = std::get_if<link::Pulses>(&message)) {
      batches.push_back(*pulses);
    } else if (const auto* reply = std::get_if<link::HelloReply>(&message)) {
      hello = *reply;
      answer_ = message;
    } else if (const auto* ack = std::get_if<link::Ack>(&message)) {
      if (ack->seq == waits_for_)
        answer_ = message;
    } else if (const auto* nak = std::get_if<link::Nak>(&message)) {
      naks.push_back(*nak);
      if (nak->seq == waits_for_)
        answer_ = message;
    }
  }

  std::uint8_t seq_ = 0;
  std::uint8_t waits_for_ = 0;
  int since_alive_ = 0;
  std::optional<link::DriverMessage> answer_;
};

inline Setup plain_setup(std::vector<ScriptedFault> faults = {}) {
  Setup setup = make_setup(plain_machine(), std::nullopt).value();
  setup.faults = std::move(faults);
  return setup;
}

inline Setup plain_setup(const char* fault) {
  return plain_setup(std::vector<ScriptedFault>{parse_fault(fault).value()});
}

} // namespace whirler::plant
