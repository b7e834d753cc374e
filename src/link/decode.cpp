#include "whirler/link/messages.hpp"
#include "wire.hpp"

#include <optional>

namespace whirler::link {
namespace {

constexpr std::size_t kHelloFrozen = 6;

/// What a reader function makes of a payload: a message, or why there is none.
template <class Message>
using Read = std::variant<Message, DecodeFault>;

bool has(std::uint8_t flags, int place) { return ((flags >> place) & 1) != 0; }

Read<HostMessage> read_hello(Reader r) {
  if (r.left() < kHelloFrozen)
    return DecodeFault::bad_length;
  Hello m;
  m.protocol_min = r.u8();
  m.protocol_max = r.u8();
  m.nonce = r.u32();
  return HostMessage{m}; // what follows is for later versions
}

Read<HostMessage> read_segment(Reader r) {
  Segment m;
  m.index = r.u8();
  m.target = speed_from_wire(r.u32());
  m.slope = slope_from_wire(r.u32());
  m.dwell = milliseconds(r.u32());
  if (!r.finished())
    return DecodeFault::bad_length;
  return HostMessage{m};
}

Read<HostMessage> read_start(Reader r) {
  Start m;
  m.segments = r.u8();
  m.stop_slope = slope_from_wire(r.u32());
  m.lid_confirmed = has(r.u8(), 0);
  m.ceiling = speed_from_wire(r.u32());
  m.program_crc = r.u32();
  m.token = r.u32();
  if (!r.finished())
    return DecodeFault::bad_length;
  return HostMessage{m};
}

Read<HostMessage> read_keep_alive(Reader r) {
  const KeepAlive m{r.u16()};
  if (!r.finished())
    return DecodeFault::bad_length;
  return HostMessage{m};
}

void read_hello_numbers(Reader& r, HelloReply& m) {
  m.tick_numerator = r.u32();
  m.tick_denominator = r.u32();
  m.tick_bits = r.u8();
  m.marks_per_turn = r.u16();
  const std::uint8_t flags = r.u8();
  m.index = has(flags, 0);
  m.enable_output = has(flags, 1);
  m.lid_switch = has(flags, 2);
  m.tach_only = has(flags, 3);
  m.max_speed = speed_from_wire(r.u32());
  m.min_speed = speed_from_wire(r.u32());
  m.max_slope = slope_from_wire(r.u32());
  m.max_segments = r.u8();
  m.still_after = milliseconds(r.u16());
}

bool is_possible(const HelloReply& m) {
  return m.tick_numerator != 0 && m.tick_denominator != 0 && m.tick_bits >= 16 &&
         m.tick_bits <= 32 && m.marks_per_turn >= 1 && m.marks_per_turn <= 1024;
}

/// A driver of another version may go on after the first six bytes as it likes.
Read<DriverMessage> read_hello_reply(Reader r) {
  if (r.left() < kHelloFrozen)
    return DecodeFault::bad_length;
  HelloReply m;
  m.protocol_min = r.u8();
  m.protocol_max = r.u8();
  m.nonce = r.u32();
  if (m.protocol_min > kProtocolVersion || m.protocol_max < kProtocolVersion)
    return DriverMessage{m};
  m.firmware_major = r.u8();
  m.firmware_minor = r.u8();
  m.firmware_patch = r.u8();
  read_hello_numbers(r, m);
  const std::size_t length = r.u8();
  for (std::size_t i = 0; i < length && r.ok(); ++i)
    m.name.push_back(static_cast<char>(r.u8()));
  if (!r.finished())
    return DecodeFault::bad_length;
  if (!is_possible(m) || length > 32)
    return DecodeFault::bad_value;
  return DriverMessage{m};
}

Read<DriverMessage> read_ack(Reader r) {
  Ack m;
  m.type = r.u8();
  m.seq = r.u8();
  if (!r.finished())
    return DecodeFault::bad_length;
  return DriverMessage{m};
}

Read<DriverMessage> read_nak(Reader r) {
  Nak m;
  m.type = r.u8();
  m.seq = r.u8();
  m.code = static_cast<NakCode>(r.u8());
  m.asked = r.u32();
  m.allowed = r.u32();
  if (!r.finished())
    return DecodeFault::bad_length;
  return DriverMessage{m};
}

template <class Enum>
Enum read_enum(Reader& r, Enum largest, bool& possible) {
  const std::uint8_t value = r.u8();
  possible = possible && value <= static_cast<std::uint8_t>(largest);
  return static_cast<Enum>(value);
}

Read<DriverMessage> read_status(Reader r) {
  Status m;
  bool possible = true;
  m.report = r.u16();
  m.state = read_enum(r, DriverState::stopping, possible);
  m.latch = static_cast<Latch>(r.u8()); // codes may be added
  m.lid = read_enum(r, LidState::open, possible);
  const std::uint8_t flags = r.u8();
  m.enabled = has(flags, 0);
  m.still = has(flags, 1);
  const std::uint8_t segment = r.u8();
  if (segment != kNoSegment)
    m.segment = segment;
  m.phase = read_enum(r, Phase::dwell, possible);
  m.target = speed_from_wire(r.u32());
  m.measured = speed_from_wire(r.u32());
  m.command_permille = r.u16();
  m.clock_ms = r.u32();
  m.phase_ms = r.u32();
  m.pulses = r.u32();
  m.pulses_dropped = r.u16();
  m.frames_discarded = r.u16();
  m.token = r.u32();
  if (!r.finished())
    return DecodeFault::bad_length;
  if (!possible)
    return DecodeFault::bad_value;
  return DriverMessage{m};
}

Read<DriverMessage> read_pulses(Reader r) {
  Pulses m;
  m.batch = r.u16();
  m.pulses_before = r.u32();
  m.first_tick = r.u32();
  m.clock_ms = r.u32();
  const std::uint16_t mark = r.u16();
  if (mark != kNoMark)
    m.first_mark = mark;
  const std::uint8_t count = r.u8();
  for (int i = 1; i < count && r.ok(); ++i)
    m.deltas.push_back(r.varint());
  if (!r.finished())
    return DecodeFault::bad_length;
  if (count == 0)
    return DecodeFault::bad_value;
  return DriverMessage{m};
}

} // namespace

std::variant<HostMessage, DecodeFault> decode_host(const Frame& frame) {
  const Reader r(frame.payload());
  switch (static_cast<MessageType>(frame.type)) {
  case MessageType::hello:
    return read_hello(r);
  case MessageType::clear:
    if (r.left() != 0)
      return DecodeFault::bad_length;
    return HostMessage{Clear{}};
  case MessageType::segment:
    return read_segment(r);
  case MessageType::start:
    return read_start(r);
  case MessageType::keep_alive:
    return read_keep_alive(r);
  default:
    return DecodeFault::unknown_type;
  }
}

std::variant<DriverMessage, DecodeFault> decode_driver(const Frame& frame) {
  const Reader r(frame.payload());
  switch (static_cast<MessageType>(frame.type)) {
  case MessageType::hello_reply:
    return read_hello_reply(r);
  case MessageType::ack:
    return read_ack(r);
  case MessageType::nak:
    return read_nak(r);
  case MessageType::status:
    return read_status(r);
  case MessageType::pulses:
    return read_pulses(r);
  default:
    return DecodeFault::unknown_type;
  }
}

std::optional<std::uint8_t> common_version(const Hello& host, const HelloReply& driver) {
  const std::uint8_t highest = std::min(host.protocol_max, driver.protocol_max);
  if (highest < host.protocol_min || highest < driver.protocol_min)
    return std::nullopt;
  return highest;
}

} // namespace whirler::link
