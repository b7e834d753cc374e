#include "conversation.hpp"

#include "catch.hpp"

namespace conversation {

using whirler::milliseconds;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

namespace {
constexpr Duration kLook = milliseconds(2.0);
}

std::uint8_t Talk::send(const link::HostMessage& message) {
  wire_.send(link::encode(message, seq_));
  return seq_++;
}

void Talk::take(const link::DriverMessage& message) {
  if (const auto* status = std::get_if<link::Status>(&message))
    statuses.push_back({wire_.now(), *status});
  if (const auto* reply = std::get_if<link::HelloReply>(&message))
    driver_ = *reply;
  if (const auto* batch = std::get_if<link::Pulses>(&message))
    pulses.push_back(*batch);
  if (const auto* ack = std::get_if<link::Ack>(&message))
    acks.push_back(*ack);
  if (const auto* nak = std::get_if<link::Nak>(&message))
    naks.push_back(*nak);
}

void Talk::pass(Duration span) {
  const Duration end = wire_.now() + span;
  do {
    if (alive_ && !statuses.empty() && wire_.now() >= alive_at_) {
      send(link::KeepAlive{last().report});
      alive_at_ = wire_.now() + milliseconds(20.0);
    }
    const auto received = wire_.pass(kLook);
    bytes += received.size();
    decoder.feed(received, [this](const link::Frame& frame) {
      const auto message = link::decode_driver(frame);
      if (const auto* good = std::get_if<link::DriverMessage>(&message))
        take(*good);
      else
        ++bad_frames;
    });
  } while (wire_.now() < end);
}

bool Talk::wait_for(const std::function<bool()>& wanted, Duration patience) {
  const Duration end = wire_.now() + patience;
  while (!wanted()) {
    if (wire_.now() >= end)
      return false;
    pass(kLook);
  }
  return true;
}

std::optional<link::HelloReply> Talk::greet(const link::Hello& hello) {
  driver_.reset();
  for (int tries = 0; tries < 25; ++tries) {
    send(hello);
    if (wait_for([this] { return driver_.has_value(); }, milliseconds(200.0)))
      return driver_;
  }
  return std::nullopt;
}

std::optional<Answer> Talk::ask(std::span<const std::uint8_t> frame) {
  acks.clear();
  naks.clear();
  wire_.send(frame);
  if (!wait_for([this] { return !acks.empty() || !naks.empty(); }, milliseconds(200.0)))
    return std::nullopt;
  if (!acks.empty())
    return acks.back();
  return naks.back();
}

std::optional<Answer> Talk::ask(const link::HostMessage& message) {
  return ask(link::encode(message, seq_++));
}

std::optional<link::NakCode> Talk::refused(const link::HostMessage& message) {
  const auto answer = ask(message);
  REQUIRE(answer);
  if (const auto* nak = std::get_if<link::Nak>(&*answer))
    return nak->code;
  return std::nullopt;
}

void Talk::make_ready() {
  REQUIRE(greet());
  REQUIRE(wait_for([this] { return !statuses.empty() && last().still; }, seconds(10.0)));
  REQUIRE_FALSE(refused(link::Clear{}));
  REQUIRE(reach(link::DriverState::ready, milliseconds(200.0)));
}

link::Start Talk::upload(const std::vector<link::Segment>& segments) {
  make_ready();
  for (const link::Segment& segment : segments)
    REQUIRE_FALSE(refused(segment));
  link::Start start;
  start.segments = static_cast<std::uint8_t>(segments.size());
  start.stop_slope = rpm_per_s(2000);
  start.ceiling = rpm(3000);
  start.token = ++token_;
  start.program_crc = link::program_crc(segments);
  return start;
}

link::Start Talk::upload() { return upload({{0, rpm(600), rpm_per_s(1000), milliseconds(500.0)}}); }

bool Talk::reach(link::DriverState state, Duration patience) {
  return wait_for([&] { return !statuses.empty() && last().state == state; }, patience);
}

bool Talk::reach(link::Phase phase, Duration patience) {
  return wait_for([&] { return !statuses.empty() && last().phase == phase; }, patience);
}

} // namespace conversation
