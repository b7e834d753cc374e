// The line of the simulated driver: what it hears and what it says.
#include "whirler/plant/simulated_driver.hpp"

#include <algorithm>
#include <utility>

namespace whirler::plant {
namespace {

constexpr Duration kProgramStep = milliseconds(1.0);

std::uint32_t usual_length(std::uint8_t type) {
  switch (static_cast<link::MessageType>(type)) {
  case link::MessageType::hello:
    return 6;
  case link::MessageType::segment:
    return 13;
  case link::MessageType::start:
    return 18;
  case link::MessageType::keep_alive:
    return 2;
  default:
    return 0;
  }
}

} // namespace

void SimulatedDriver::receive(std::span<const std::uint8_t> bytes) {
  if (faults_.holds(FaultWord::deaf) || !plugged() || !awake())
    return;
  std::vector<std::uint8_t> heard(bytes.begin(), bytes.end());
  damage(heard);
  for (const std::uint8_t byte : heard) {
    if (const auto stop = stops_.feed(byte))
      controller_.stop(*stop);
    if (!link::is_stop_byte(byte))
      decoder_.feed(std::span(&byte, 1), [this](const link::Frame& frame) { answer(frame); });
  }
}

void SimulatedDriver::answer(const link::Frame& frame) {
  const auto read = link::decode_host(frame);
  const auto* message = std::get_if<link::HostMessage>(&read);
  if (message != nullptr && std::holds_alternative<link::Hello>(*message))
    return answer_hello(std::get<link::Hello>(*message));
  if (!controller_.greeted())
    return refuse(frame, {0, 0, link::NakCode::no_hello, 0, 0});
  if (message == nullptr) {
    const bool unknown = std::get<link::DecodeFault>(read) == link::DecodeFault::unknown_type;
    if (unknown)
      return refuse(frame, {0, 0, link::NakCode::unknown_type, 0, 0});
    return refuse(frame, {0, 0, link::NakCode::bad_length, frame.size, usual_length(frame.type)});
  }
  if (const auto* alive = std::get_if<link::KeepAlive>(message))
    return controller_.keep_alive(alive->report);
  if (const auto refusal = obey(*message))
    return refuse(frame, *refusal);
  send(link::Ack{frame.type, frame.seq});
}

void SimulatedDriver::answer_hello(const link::Hello& hello) {
  link::HelloReply reply = setup_.controller.driver;
  reply.nonce = hello.nonce;
  controller_.hello(link::common_version(hello, reply).has_value());
  to_report_ = seconds(0.0);
  send(reply);
}

MotorController::Refusal SimulatedDriver::obey(const link::HostMessage& message) {
  if (std::holds_alternative<link::Clear>(message))
    return controller_.clear();
  if (const auto* segment = std::get_if<link::Segment>(&message))
    return controller_.put(*segment);
  const auto refusal = controller_.start(std::get<link::Start>(message));
  if (!refusal && !first_start_)
    first_start_ = truth().at;
  return refusal;
}

void SimulatedDriver::refuse(const link::Frame& frame, link::Nak nak) {
  nak.type = frame.type;
  nak.seq = frame.seq;
  send(nak);
}

/// Reports when due or when there is news, then pulses.
void SimulatedDriver::speak() {
  const bool news = controller_.take_news();
  if (!controller_.greeted())
    return;
  to_report_ -= kProgramStep;
  if (news || to_report_ <= seconds(0.0)) {
    send(controller_.report(static_cast<std::uint16_t>(decoder_.discarded())));
    to_report_ = link::kReportPeriod;
  }
  for (const auto& batch : controller_.tach().take_batches())
    send(batch);
}

void SimulatedDriver::send(const link::DriverMessage& message) {
  put_on_line(link::encode(message, seq_++));
}

void SimulatedDriver::put_on_line(std::vector<std::uint8_t> bytes) {
  if (!plugged() || faults_.holds(FaultWord::silent) || faults_.holds(FaultWord::garbage))
    return;
  damage(bytes);
  const Duration late = milliseconds(faults_.value(FaultWord::slow).value_or(0.0));
  if (late > seconds(0.0) || !late_.empty())
    late_.push_back({truth().at + late, std::move(bytes)});
  else
    output_.insert(output_.end(), bytes.begin(), bytes.end());
}

void SimulatedDriver::damage(std::vector<std::uint8_t>& bytes) {
  const auto share = faults_.value(FaultWord::corrupt);
  if (!share)
    return;
  std::uniform_real_distribution<double> chance(0.0, 1.0);
  std::uniform_int_distribution<int> flips(1, 255);
  for (auto& byte : bytes)
    if (chance(random_) < *share)
      byte = static_cast<std::uint8_t>(byte ^ flips(random_));
}

std::vector<std::uint8_t> SimulatedDriver::take_output() { return std::exchange(output_, {}); }

} // namespace whirler::plant
