#include <utility> // ahead of Asio, see serial_port.cpp

#include "whirler/drive/tach_line.hpp"

namespace whirler::drive {
namespace {

constexpr auto kSilence = std::chrono::milliseconds(500);

} // namespace

TachLine::TachLine(SerialPort port, std::string port_name, std::uint32_t nonce)
    : port_(std::move(port)), port_name_(std::move(port_name)), nonce_(nonce) {
  port_.listen([this](std::span<const std::uint8_t> bytes) { on_bytes(bytes); },
               [](const Fault&) {}); // a line that is gone is a line that is silent
}

void TachLine::say_hello() {
  port_.send(
      link::encode(link::Hello{link::kProtocolVersion, link::kProtocolVersion, nonce_}, seq_++));
}

std::optional<Fault> TachLine::refusal() const {
  if (!link::common_version(link::Hello{}, *greeting_))
    return Fault{FaultKind::link, "the tach's board speaks another version of the link", port_name_,
                 "update the older of the two"};
  if (!greeting_->tach_only)
    return Fault{FaultKind::link, "this board can turn a motor: it is no tach only", port_name_,
                 "name the tach's port, or build its firmware as a tach only"};
  return std::nullopt;
}

bool TachLine::alive() const { return std::chrono::steady_clock::now() - heard_ < kSilence; }

void TachLine::on_bytes(std::span<const std::uint8_t> bytes) {
  decoder_.feed(bytes, [this](const link::Frame& frame) {
    const auto decoded = link::decode_driver(frame);
    if (const auto* message = std::get_if<link::DriverMessage>(&decoded))
      std::visit([this](const auto& known) { on_message(known); }, *message);
  });
}

void TachLine::on_message(const link::HelloReply& reply) {
  if (reply.nonce != nonce_ || greeting_)
    return;
  greeting_ = reply;
  unwrapper_.emplace(reply);
}

void TachLine::on_message(const link::Status& status) {
  heard_ = std::chrono::steady_clock::now();
  if (greeting_)
    status_ = status;
}

void TachLine::on_message(const link::Pulses& batch) {
  if (!unwrapper_ || !on_pulses_)
    return;
  const auto pulses = unwrapper_->add(batch);
  on_pulses_({pulses.ticks, pulses.marks, pulses.missing_before});
}

} // namespace whirler::drive
