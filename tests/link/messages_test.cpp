#include "catch.hpp"
#include "whirler/link/messages.hpp"

#include <cmath>
#include <limits>
#include <random>

using namespace whirler;
using namespace whirler::link;

namespace {

template <class Message>
Message sent_and_read(const Message& message) {
  Decoder decoder;
  const auto frames = decoder.feed(encode(DriverMessage{message}, 7));
  REQUIRE(frames.size() == 1);
  const auto read = decode_driver(frames[0]);
  REQUIRE(std::holds_alternative<DriverMessage>(read));
  return std::get<Message>(std::get<DriverMessage>(read));
}

Segment through_the_line(const Segment& segment) {
  Decoder decoder;
  const auto frames = decoder.feed(encode(HostMessage{segment}, 7));
  REQUIRE(frames.size() == 1);
  return std::get<Segment>(std::get<HostMessage>(decode_host(frames[0])));
}

template <class Variant>
DecodeFault fault_of(const Variant& read) {
  REQUIRE(std::holds_alternative<DecodeFault>(read));
  return std::get<DecodeFault>(read);
}

Frame frame_of(MessageType type, std::vector<std::uint8_t> payload) {
  Decoder decoder;
  return decoder.feed(encode_frame(static_cast<std::uint8_t>(type), 0, payload)).at(0);
}

} // namespace

TEST_CASE("exact: every speed a spinner can have travels to half a thousandth of an rpm") {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> speeds(0.0, 20000.0);
  for (int i = 0; i < 2000; ++i) {
    const Segment asked{0, rpm(speeds(random)), rpm_per_s(speeds(random)), seconds(speeds(random))};
    const Segment got = through_the_line(asked);
    REQUIRE(std::abs(got.target.rpm() - asked.target.rpm()) <= 0.5e-3 * (1 + 1e-9));
    REQUIRE(std::abs(got.slope.rpm_per_s() - asked.slope.rpm_per_s()) <= 0.5e-3 * (1 + 1e-9));
    REQUIRE(std::abs(got.dwell.ms() - asked.dwell.ms()) <= 0.5 * (1 + 1e-9));
    REQUIRE(through_the_line(got) == got); // what the driver holds reads the same at both ends
  }
}

TEST_CASE("a quantity that the line cannot hold goes as what every driver refuses") {
  constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
  constexpr double kInf = std::numeric_limits<double>::infinity();
  for (const double bad : {-1.0, -1e300, kNan, -kInf})
    CHECK(through_the_line({0, rpm(bad), rpm_per_s(bad), seconds(bad)}) ==
          Segment{0, rpm(0), rpm_per_s(0), seconds(0)});
  for (const double bad : {1e10, 1e300, kInf}) {
    CHECK(through_the_line({0, rpm(bad), rpm_per_s(1), seconds(1)}).target.rpm() > 4.2e6);
    CHECK(through_the_line({0, rpm(1), rpm_per_s(bad), seconds(1)}).slope.rpm_per_s() > 4.2e6);
  }
}

TEST_CASE("a payload of any wrong length is refused, and never read past its end") {
  for (int type = 0; type < 256; ++type)
    for (std::size_t size = 0; size <= kMaxDriverPayload; ++size) {
      Frame frame;
      frame.type = static_cast<std::uint8_t>(type);
      frame.size = static_cast<std::uint8_t>(size);
      frame.bytes.fill(0x01);
      const bool host_knows = std::holds_alternative<HostMessage>(decode_host(frame));
      const bool host_fits = (type == 1 && size >= 6) || (type == 2 && size == 0) ||
                             (type == 3 && size == 13) || (type == 4 && size == 18) ||
                             (type == 5 && size == 2);
      REQUIRE(host_knows == host_fits);
      if (type < 0x81 || type > 0x85)
        REQUIRE(fault_of(decode_driver(frame)) == DecodeFault::unknown_type);
    }
}

TEST_CASE("values that a field cannot have are refused, codes that may be added are kept") {
  std::vector<std::uint8_t> status(38, 0);
  status[2] = 5;
  CHECK(fault_of(decode_driver(frame_of(MessageType::status, status))) == DecodeFault::bad_value);
  status[2] = 0;
  status[4] = 3;
  CHECK(fault_of(decode_driver(frame_of(MessageType::status, status))) == DecodeFault::bad_value);
  status[4] = 0;
  status[7] = 3;
  CHECK(fault_of(decode_driver(frame_of(MessageType::status, status))) == DecodeFault::bad_value);
  status[7] = 0;
  status[3] = 99;
  const auto read = decode_driver(frame_of(MessageType::status, status));
  const Latch latch = std::get<Status>(std::get<DriverMessage>(read)).latch;
  CHECK(to_text(latch) == "the driver's reason number 99");
  std::vector<std::uint8_t> pulses(17, 0);
  CHECK(fault_of(decode_driver(frame_of(MessageType::pulses, pulses))) == DecodeFault::bad_value);
  pulses[16] = 2;
  CHECK(fault_of(decode_driver(frame_of(MessageType::pulses, pulses))) == DecodeFault::bad_length);
  pulses.insert(pulses.end(), {0xff, 0xff, 0xff, 0xff, 0x1f}); // 33 bits
  CHECK(fault_of(decode_driver(frame_of(MessageType::pulses, pulses))) == DecodeFault::bad_length);
}

TEST_CASE("a batch has room until its frame is full, and no longer") {
  std::mt19937 random(17);
  for (int round = 0; round < 200; ++round) {
    Pulses batch;
    std::uint32_t delta = 0;
    const auto next = [&] {
      return delta = static_cast<std::uint32_t>(random()) >> (random() % 32);
    };
    while (has_room(batch, next()))
      batch.deltas.push_back(delta);
    REQUIRE(sent_and_read(batch) == batch);
    batch.deltas.push_back(delta);
    REQUIRE_THROWS_AS(encode(DriverMessage{batch}, 0), std::length_error);
  }
}

TEST_CASE("a driver of a later version is understood as far as the versions, whatever follows") {
  std::vector<std::uint8_t> later{2, 7, 0x44, 0x33, 0x22, 0x11, 0xff, 0xff, 0xff};
  const auto read = decode_driver(frame_of(MessageType::hello_reply, later));
  const auto reply = std::get<HelloReply>(std::get<DriverMessage>(read));
  CHECK(reply.protocol_min == 2);
  CHECK(reply.protocol_max == 7);
  CHECK(reply.nonce == 0x11223344U);
  CHECK_FALSE(common_version(Hello{}, reply).has_value());
}

TEST_CASE("the common version is the highest that both speak") {
  const auto common = [](std::uint8_t a, std::uint8_t b, std::uint8_t c, std::uint8_t d) {
    HelloReply reply;
    reply.protocol_min = c;
    reply.protocol_max = d;
    return common_version(Hello{a, b, 0}, reply);
  };
  CHECK(common(1, 1, 1, 1) == std::uint8_t{1});
  CHECK(common(1, 3, 2, 5) == std::uint8_t{3});
  CHECK(common(2, 9, 1, 4) == std::uint8_t{4});
  CHECK_FALSE(common(1, 1, 2, 3).has_value());
  CHECK_FALSE(common(4, 5, 2, 3).has_value());
}

TEST_CASE("a later hello's extra bytes are ignored by this version") {
  const auto read = decode_host(frame_of(MessageType::hello, {1, 2, 9, 0, 0, 0, 0xaa, 0xbb}));
  CHECK(std::get<HostMessage>(read) == HostMessage{Hello{1, 2, 9}});
}

TEST_CASE("a refusal says both numbers in people's units") {
  CHECK(to_text(Nak{3, 4, NakCode::speed_high, 7000000, 6000000}) ==
        "speed too high: asked 7000 rpm, at most 6000 rpm");
  CHECK(to_text(Nak{4, 4, NakCode::too_many_segments, 40, 32}) ==
        "too many segments: asked 40, at most 32");
  CHECK(to_text(Nak{4, 4, NakCode::lid_open, 0, 0}) == "the lid is open");
  CHECK(to_text(Nak{4, 4, static_cast<NakCode>(200), 0, 0}) == "the driver refused with code 200");
}
