// A drive that speaks the project's own link protocol over a serial port (link/PROTOCOL.md): the
// reference firmware, the simulated spinner, and whatever else was built from that document.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/drive/serial_port.hpp"
#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/link/pulse_unwrapper.hpp"

#include <boost/asio/io_context.hpp>

#include <chrono>

namespace whirler::drive {

class LinkDrive final : public Drive {
 public:
  /// `nonce` tells this greeting's answer from an older one, and seeds the start's token; any
  /// number that was not used a moment ago.
  LinkDrive(boost::asio::io_context& context, SerialPort port, std::string port_name,
            std::uint32_t nonce);
  /// Commands the motor off at once if it may still be turning under this object's orders.
  ~LinkDrive() override;

  [[nodiscard]] Result<Identity> greet(Listener& listener, Duration patience,
                                       const std::function<bool()>& give_up) override;
  void stop_listening() override { listener_ = nullptr; }
  [[nodiscard]] Outcome start_program(const Program& program) override;
  void keep_alive() override;
  void command_stop() override;
  void command_cut() override;
  void repeat_stop() override;

 private:
  using WallClock = std::chrono::steady_clock;
  struct Answer {
    std::uint8_t type;
    std::uint8_t seq;
    std::optional<link::Nak> refusal;
  };

  void on_bytes(std::span<const std::uint8_t> bytes);
  void on_frame(const link::Frame& frame);
  void on_message(const link::HelloReply& reply);
  void on_message(const link::Ack& ack);
  void on_message(const link::Nak& nak);
  void on_message(const link::Status& status);
  void on_message(const link::Pulses& batch);
  void on_lost(const Fault& fault);
  void command(link::StopKind kind);

  [[nodiscard]] Outcome ask(const link::HostMessage& message, const std::string& doing);
  [[nodiscard]] Result<Identity> accept(const link::HelloReply& reply) const;
  [[nodiscard]] Fault silent(Duration waited) const;
  [[nodiscard]] Fault out_of_touch(std::string what) const;
  /// Serves the io_context until `done` holds, `give_up` does, or the time is over.
  bool serve_until(const std::function<bool()>& done, WallClock::duration patience,
                   const std::function<bool()>& give_up = {});

  boost::asio::io_context& context_;
  SerialPort port_;
  std::string port_name_;
  std::uint32_t nonce_;
  std::uint32_t token_ = 0;
  Listener* listener_ = nullptr;
  link::Decoder decoder_;
  std::optional<link::PulseUnwrapper> unwrapper_;
  std::uint64_t bytes_heard_ = 0;
  std::uint8_t seq_ = 0;
  std::optional<link::HelloReply> greeting_;
  std::optional<Answer> answer_;
  std::optional<link::Status> last_status_;
  std::optional<Fault> lost_;
  std::uint64_t clock_ms_ = 0; ///< the driver's clock, unwrapped
  bool started_ = false;       ///< a start was sent and nothing has shown it over
  std::optional<link::StopKind> pending_stop_;
  int times_sent_ = 0; ///< of the pending stop
};

} // namespace whirler::drive
