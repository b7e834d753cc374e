// A board that counts the hub's marks and drives nothing: the reference firmware as a tach only, on
// a port of its own beside a drive that cannot say when a mark passed.
//
// It speaks the project's link (link/PROTOCOL.md) and says in its greeting that it is a tach only;
// a board that could turn a motor is refused here, since nobody would ever stop it.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/drive/serial_port.hpp"
#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/link/pulse_unwrapper.hpp"

#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>

namespace whirler::drive {

class TachLine {
 public:
  using OnPulses = std::function<void(const PulseBatch&)>;

  TachLine(SerialPort port, std::string port_name, std::uint32_t nonce);
  TachLine(const TachLine&) = delete;
  TachLine& operator=(const TachLine&) = delete;

  /// Says hello; the answer comes by itself, and is asked for again by calling this again.
  void say_hello();
  void listen(OnPulses on_pulses) { on_pulses_ = std::move(on_pulses); }
  /// Greeted, and its first report has come.
  [[nodiscard]] bool ready() const { return greeting_ && status_; }
  /// Why it cannot serve as the tach of this run, once it is ready.
  [[nodiscard]] std::optional<Fault> refusal() const;
  [[nodiscard]] const link::HelloReply& greeting() const { return *greeting_; }
  [[nodiscard]] const link::Status& status() const { return *status_; }
  /// Heard within the last half second.
  [[nodiscard]] bool alive() const;
  [[nodiscard]] const std::string& port_name() const { return port_name_; }

 private:
  void on_bytes(std::span<const std::uint8_t> bytes);
  void on_message(const link::HelloReply& reply);
  void on_message(const link::Status& status);
  void on_message(const link::Pulses& batch);
  void on_message(const link::Ack&) {}
  void on_message(const link::Nak&) {}

  SerialPort port_;
  std::string port_name_;
  std::uint32_t nonce_;
  std::uint8_t seq_ = 0;
  OnPulses on_pulses_;
  link::Decoder decoder_;
  std::optional<link::HelloReply> greeting_;
  std::optional<link::Status> status_;
  std::optional<link::PulseUnwrapper> unwrapper_;
  std::chrono::steady_clock::time_point heard_{};
};

} // namespace whirler::drive
