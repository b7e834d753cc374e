#include "host.hpp"

#include <algorithm>

namespace bench {

namespace link = whirler::link;

namespace {
constexpr Cycles kKeepAlive = 20 * kCyclesPerMs;
constexpr Cycles kAskAgain = 200 * kCyclesPerMs;
constexpr int kTries = 5;
constexpr Cycles kLook = kCyclesPerMs / 4;
} // namespace

Host::Host(Chip& chip, SerialLine& line) : chip_(chip), line_(line) {
  line_.on_received([this](std::uint8_t byte) { take(byte); });
  beat();
}

void Host::take(std::uint8_t byte) {
  received_.push_back(byte);
  decoder_.feed(std::span(&byte, 1), [this](const link::Frame& frame) {
    const auto message = link::decode_driver(frame);
    if (const auto* good = std::get_if<link::DriverMessage>(&message))
      take(*good);
  });
}

void Host::take(const link::DriverMessage& message) {
  if (const auto* status = std::get_if<link::Status>(&message))
    statuses_.push_back({chip_.now(), *status});
  if (const auto* reply = std::get_if<link::HelloReply>(&message); reply && reply->nonce == nonce_)
    reply_ = *reply;
  if (const auto* ack = std::get_if<link::Ack>(&message))
    answer_ = *ack;
  if (const auto* nak = std::get_if<link::Nak>(&message)) {
    refusals_.push_back(*nak);
    answer_ = *nak;
  }
  if (const auto* pulses = std::get_if<link::Pulses>(&message); pulses && unwrapper_) {
    const auto rolled = unwrapper_->add(*pulses);
    ticks_.insert(ticks_.end(), rolled.ticks.begin(), rolled.ticks.end());
    marks_.insert(marks_.end(), rolled.marks.begin(), rolled.marks.end());
  }
}

void Host::beat() {
  if (!statuses_.empty() && !frozen_)
    named_ = statuses_.back().status.report;
  if (alive_)
    send(link::KeepAlive{named_});
  chip_.at(chip_.now() + kKeepAlive, [this] { beat(); });
}

std::uint8_t Host::send(const link::HostMessage& message) {
  line_.send(link::encode(message, seq_));
  return seq_++;
}

void Host::send_stop(link::StopKind kind) { line_.send(link::stop_sequence(kind)); }

std::optional<link::HelloReply> Host::greet() {
  reply_.reset();
  ++nonce_;
  for (int tries = 0; tries < 25 && !reply_; ++tries) {
    send(link::Hello{link::kProtocolVersion, link::kProtocolVersion, nonce_});
    for (const Cycles end = chip_.now() + kAskAgain; chip_.now() < end && !reply_;)
      chip_.run_for(kLook);
  }
  if (reply_)
    unwrapper_.emplace(*reply_);
  return reply_;
}

namespace {
std::pair<std::uint8_t, std::uint8_t> answered(const Answer& answer) {
  return std::visit([](const auto& either) { return std::pair(either.type, either.seq); }, answer);
}
} // namespace

std::optional<Answer> Host::command(const link::HostMessage& message) {
  const std::uint8_t seq = seq_++;
  const auto bytes = link::encode(message, seq);
  for (int tries = 0; tries < kTries; ++tries) {
    line_.send(bytes);
    for (const Cycles end = chip_.now() + kAskAgain; chip_.now() < end;) {
      answer_.reset();
      chip_.run_for(kLook);
      if (answer_ && answered(*answer_).second == seq)
        return answer_;
    }
  }
  return std::nullopt;
}

std::optional<Answer> Host::start(std::span<const link::Segment> segments,
                                  const link::Start& start) {
  auto answer = command(link::Clear{});
  for (const link::Segment& segment : segments) {
    if (!answer || std::holds_alternative<link::Nak>(*answer))
      return answer;
    answer = command(segment);
  }
  if (!answer || std::holds_alternative<link::Nak>(*answer))
    return answer;
  link::Start whole = start;
  whole.segments = static_cast<std::uint8_t>(segments.size());
  whole.program_crc = link::program_crc(segments);
  keep_alive(true);
  return command(whole);
}

link::PulseLosses Host::losses() const {
  return unwrapper_ ? unwrapper_->losses() : link::PulseLosses{};
}

} // namespace bench
