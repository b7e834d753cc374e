#include "whirler/link/messages.hpp"
#include "wire.hpp"

#include <stdexcept>
#include <utility>

namespace whirler::link {
namespace {

constexpr std::size_t kLongestName = 32;
constexpr std::size_t kPulsesHead = 17;

using Payload = std::pair<MessageType, Writer>;

std::uint8_t bit(bool set, int place) { return static_cast<std::uint8_t>(set ? 1 << place : 0); }

Payload write(const Hello& m) {
  return {MessageType::hello, Writer{}.u8(m.protocol_min).u8(m.protocol_max).u32(m.nonce)};
}

Payload write(const Clear&) { return {MessageType::clear, Writer{}}; }

Payload write(const Segment& m) {
  return {MessageType::segment, Writer{}
                                    .u8(m.index)
                                    .u32(wire_speed(m.target))
                                    .u32(wire_slope(m.slope))
                                    .u32(to_wire<std::uint32_t>(m.dwell.ms()))};
}

Payload write(const Start& m) {
  return {MessageType::start, Writer{}
                                  .u8(m.segments)
                                  .u32(wire_slope(m.stop_slope))
                                  .u8(bit(m.lid_confirmed, 0))
                                  .u32(wire_speed(m.ceiling))
                                  .u32(m.program_crc)
                                  .u32(m.token)};
}

Payload write(const KeepAlive& m) { return {MessageType::keep_alive, Writer{}.u16(m.report)}; }

Payload write(const HelloReply& m) {
  if (m.name.size() > kLongestName)
    throw std::length_error("a driver's name is at most 32 bytes");
  const auto flags = static_cast<std::uint8_t>(bit(m.index, 0) | bit(m.enable_output, 1) |
                                               bit(m.lid_switch, 2) | bit(m.tach_only, 3));
  Writer w;
  w.u8(m.protocol_min).u8(m.protocol_max).u32(m.nonce);
  w.u8(m.firmware_major).u8(m.firmware_minor).u8(m.firmware_patch);
  w.u32(m.tick_numerator).u32(m.tick_denominator).u8(m.tick_bits).u16(m.marks_per_turn).u8(flags);
  w.u32(wire_speed(m.max_speed)).u32(wire_speed(m.min_speed)).u32(wire_slope(m.max_slope));
  w.u8(m.max_segments).u16(to_wire<std::uint16_t>(m.still_after.ms()));
  w.u8(static_cast<std::uint8_t>(m.name.size()));
  for (const char c : m.name)
    w.u8(static_cast<std::uint8_t>(c));
  return {MessageType::hello_reply, w};
}

Payload write(const Ack& m) { return {MessageType::ack, Writer{}.u8(m.type).u8(m.seq)}; }

Payload write(const Nak& m) {
  return {MessageType::nak, Writer{}
                                .u8(m.type)
                                .u8(m.seq)
                                .u8(static_cast<std::uint8_t>(m.code))
                                .u32(m.asked)
                                .u32(m.allowed)};
}

Payload write(const Status& m) {
  Writer w;
  w.u16(m.report).u8(static_cast<std::uint8_t>(m.state)).u8(static_cast<std::uint8_t>(m.latch));
  w.u8(static_cast<std::uint8_t>(m.lid));
  w.u8(static_cast<std::uint8_t>(bit(m.enabled, 0) | bit(m.still, 1)));
  w.u8(m.segment.value_or(kNoSegment)).u8(static_cast<std::uint8_t>(m.phase));
  w.u32(wire_speed(m.target)).u32(wire_speed(m.measured)).u16(m.command_permille);
  w.u32(m.clock_ms).u32(m.phase_ms).u32(m.pulses);
  w.u16(m.pulses_dropped).u16(m.frames_discarded).u32(m.token);
  return {MessageType::status, w};
}

Payload write(const Pulses& m) {
  Writer w;
  w.u16(m.batch).u32(m.pulses_before).u32(m.first_tick).u32(m.clock_ms);
  w.u16(m.first_mark.value_or(kNoMark)).u8(static_cast<std::uint8_t>(m.count()));
  for (const std::uint32_t delta : m.deltas)
    w.varint(delta);
  if (w.bytes().size() > kMaxDriverPayload)
    throw std::length_error("these pulses do not fit one frame");
  return {MessageType::pulses, w};
}

template <class Message>
std::vector<std::uint8_t> encode_any(const Message& message, std::uint8_t seq) {
  const auto [type, payload] = std::visit([](const auto& m) { return write(m); }, message);
  return encode_frame(static_cast<std::uint8_t>(type), seq, payload.bytes());
}

std::size_t varint_bytes(std::uint32_t value) { return Writer{}.varint(value).bytes().size(); }

} // namespace

std::vector<std::uint8_t> encode(const HostMessage& message, std::uint8_t seq) {
  return encode_any(message, seq);
}

std::vector<std::uint8_t> encode(const DriverMessage& message, std::uint8_t seq) {
  return encode_any(message, seq);
}

std::uint32_t program_crc(std::span<const Segment> segments) {
  std::vector<std::uint8_t> table;
  for (const Segment& segment : segments) {
    const auto payload = write(segment).second.bytes();
    table.insert(table.end(), payload.begin(), payload.end());
  }
  return crc32(table);
}

bool has_room(const Pulses& batch, std::uint32_t delta) {
  std::size_t used = kPulsesHead + varint_bytes(delta);
  for (const std::uint32_t held : batch.deltas)
    used += varint_bytes(held);
  return used <= kMaxDriverPayload;
}

} // namespace whirler::link
