// Every worked frame, both ways, bit for bit; and what a receiver makes of whole streams.
#include "catch.hpp"
#include "vectors.hpp"
#include "whirler/link/messages.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::link;
using whirler::vectors::FrameVector;

namespace {

std::uint8_t byte_of(const FrameVector& v, std::string_view key) {
  return static_cast<std::uint8_t>(v.number(key));
}
std::uint16_t word_of(const FrameVector& v, std::string_view key) {
  return static_cast<std::uint16_t>(v.number(key));
}
Speed speed_of(const FrameVector& v, std::string_view key) { return rpm(v.number(key) / 1e3); }
Ramp slope_of(const FrameVector& v, std::string_view key) { return rpm_per_s(v.number(key) / 1e3); }

HostMessage host_message(const FrameVector& v) {
  switch (static_cast<MessageType>(v.type)) {
  case MessageType::hello:
    return Hello{byte_of(v, "protocol_min"), byte_of(v, "protocol_max"), v.number("nonce")};
  case MessageType::clear:
    return Clear{};
  case MessageType::segment:
    return Segment{byte_of(v, "index"), speed_of(v, "target"), slope_of(v, "slope"),
                   milliseconds(v.number("dwell_ms"))};
  case MessageType::start:
    return Start{byte_of(v, "segments"), slope_of(v, "stop_slope"), v.number("lid_confirmed") != 0,
                 speed_of(v, "ceiling"), v.number("program_crc"),   v.number("token")};
  case MessageType::keep_alive:
    return KeepAlive{word_of(v, "report")};
  default:
    throw std::runtime_error("no host message: " + v.name);
  }
}

HelloReply hello_reply(const FrameVector& v) {
  HelloReply m;
  m.protocol_min = byte_of(v, "protocol_min");
  m.protocol_max = byte_of(v, "protocol_max");
  m.nonce = v.number("nonce");
  m.firmware_major = byte_of(v, "major");
  m.firmware_minor = byte_of(v, "minor");
  m.firmware_patch = byte_of(v, "patch");
  m.tick_numerator = v.number("tick_numerator");
  m.tick_denominator = v.number("tick_denominator");
  m.tick_bits = byte_of(v, "tick_bits");
  m.marks_per_turn = word_of(v, "marks");
  m.index = v.number("index") != 0;
  m.enable_output = v.number("enable_output") != 0;
  m.lid_switch = v.number("lid_switch") != 0;
  m.tach_only = v.number("tach_only") != 0;
  m.max_speed = speed_of(v, "max_speed");
  m.min_speed = speed_of(v, "min_speed");
  m.max_slope = slope_of(v, "max_slope");
  m.max_segments = byte_of(v, "max_segments");
  m.still_after = milliseconds(v.number("still_after_ms"));
  m.name = v.fields.at("name");
  std::replace(m.name.begin(), m.name.end(), '_', ' ');
  return m;
}

Status status(const FrameVector& v) {
  Status m;
  m.report = word_of(v, "report");
  m.state = static_cast<DriverState>(byte_of(v, "state"));
  m.latch = static_cast<Latch>(byte_of(v, "latch"));
  m.lid = static_cast<LidState>(byte_of(v, "lid"));
  m.enabled = v.number("enabled") != 0;
  m.still = v.number("still") != 0;
  if (v.number("segment") != 255)
    m.segment = byte_of(v, "segment");
  m.phase = static_cast<Phase>(byte_of(v, "phase"));
  m.target = speed_of(v, "target");
  m.measured = speed_of(v, "measured");
  m.command_permille = word_of(v, "command_permille");
  m.clock_ms = v.number("clock_ms");
  m.phase_ms = v.number("phase_ms");
  m.pulses = v.number("pulses");
  m.pulses_dropped = word_of(v, "pulses_dropped");
  m.frames_discarded = word_of(v, "frames_discarded");
  m.token = v.number("token");
  return m;
}

Pulses pulses(const FrameVector& v) {
  Pulses m;
  m.batch = word_of(v, "batch");
  m.pulses_before = v.number("pulses_before");
  m.first_tick = v.number("first_tick");
  m.clock_ms = v.number("clock_ms");
  if (v.number("first_mark") != 65535)
    m.first_mark = word_of(v, "first_mark");
  std::istringstream deltas(v.fields.at("deltas"));
  if (v.fields.at("deltas") != "-")
    for (std::string delta; std::getline(deltas, delta, ',');)
      m.deltas.push_back(static_cast<std::uint32_t>(std::stoull(delta)));
  return m;
}

DriverMessage driver_message(const FrameVector& v) {
  switch (static_cast<MessageType>(v.type)) {
  case MessageType::hello_reply:
    return hello_reply(v);
  case MessageType::ack:
    return Ack{byte_of(v, "type"), byte_of(v, "seq")};
  case MessageType::nak:
    return Nak{byte_of(v, "type"), byte_of(v, "seq"), static_cast<NakCode>(byte_of(v, "code")),
               v.number("asked"), v.number("allowed")};
  case MessageType::status:
    return status(v);
  case MessageType::pulses:
    return pulses(v);
  default:
    throw std::runtime_error("no driver message: " + v.name);
  }
}

} // namespace

TEST_CASE("exact: the CRC of the nine digits is the published one") {
  // Check value of CRC-32 as IEEE 802.3 has it; from memory, and zlib gives the same.
  const std::string digits = "123456789";
  CHECK(crc32(vectors::Bytes(digits.begin(), digits.end())) == 0xCBF43926U);
}

TEST_CASE("exact: every worked frame is written bit for bit from its fields") {
  REQUIRE(vectors::all().frames.size() >= 20);
  for (const auto& v : vectors::all().frames) {
    CAPTURE(v.name);
    const auto line =
        v.from_host ? encode(host_message(v), v.seq) : encode(driver_message(v), v.seq);
    CHECK(line == v.wire);
  }
}

TEST_CASE("exact: every worked frame is read back into its fields") {
  for (const auto& v : vectors::all().frames) {
    CAPTURE(v.name);
    Decoder decoder(v.from_host ? kMaxHostPayload : kMaxDriverPayload);
    const auto frames = decoder.feed(v.wire);
    REQUIRE(frames.size() == 1);
    CHECK(decoder.discarded() == 0);
    CHECK(frames[0].type == v.type);
    CHECK(frames[0].seq == v.seq);
    CHECK(std::ranges::equal(frames[0].payload(), v.payload));
    if (v.from_host) {
      const auto read = decode_host(frames[0]);
      REQUIRE(std::holds_alternative<HostMessage>(read));
      CHECK(std::get<HostMessage>(read) == host_message(v));
    } else {
      const auto read = decode_driver(frames[0]);
      REQUIRE(std::holds_alternative<DriverMessage>(read));
      CHECK(std::get<DriverMessage>(read) == driver_message(v));
    }
  }
}

TEST_CASE("exact: a program's CRC is that of its segments' payloads one after another") {
  for (const auto& program : vectors::all().programs) {
    std::vector<Segment> segments;
    for (const auto& v : vectors::all().frames)
      if (v.name.starts_with("segment_") && v.name != "segment_largest")
        segments.push_back(std::get<Segment>(host_message(v)));
    REQUIRE(segments.size() == program.payloads.size() / 13);
    CHECK(program_crc(segments) == program.crc);
  }
}

TEST_CASE("exact: every worked stream gives its frames, its losses and its stop") {
  REQUIRE(vectors::all().streams.size() >= 15);
  for (const auto& v : vectors::all().streams) {
    CAPTURE(v.name);
    Decoder decoder(v.read_by_driver ? kMaxHostPayload : kMaxDriverPayload);
    vectors::Bytes rest = v.bytes;
    std::string stop = "none";
    if (v.read_by_driver) {
      rest.clear();
      StopDetector detector;
      if (const auto seen = take_stops(detector, v.bytes, rest))
        stop = *seen == StopKind::cut ? "cut" : "stop";
    }
    CHECK(std::to_string(decoder.feed(rest).size()) == v.expected.at("frames"));
    CHECK(std::to_string(decoder.discarded()) == v.expected.at("discarded"));
    CHECK(stop == v.expected.at("stop"));
  }
}

TEST_CASE("exact: every frame printed on the protocol page is one of the vectors") {
  std::ifstream page(WHIRLER_SOURCE_DIR "/include/whirler/link/PROTOCOL.md");
  REQUIRE(page);
  int found = 0;
  for (std::string line; std::getline(page, line);) {
    const auto begin = line.find("`7E ");
    if (begin == std::string::npos)
      continue;
    std::string hex = line.substr(begin + 1, line.find('`', begin + 1) - begin - 1);
    std::erase(hex, ' ');
    if (!hex.ends_with("7E"))
      continue; // a list of values, not a frame
    ++found;
    const auto bytes = vectors::from_hex(hex);
    CAPTURE(hex);
    const auto& all = vectors::all();
    const bool known = std::any_of(all.frames.begin(), all.frames.end(),
                                   [&](const auto& v) { return v.wire == bytes; }) ||
                       std::any_of(all.streams.begin(), all.streams.end(),
                                   [&](const auto& v) { return v.bytes == bytes; });
    CHECK(known);
  }
  CHECK(found == 11);
}
