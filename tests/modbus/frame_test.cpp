// Frames against the two specifications of the Modbus Organization: "MODBUS Application Protocol
// Specification" V1.1b3 (AP) and "MODBUS over Serial Line" V1.02 (SL). The examples' bytes are
// from memory, and agree with those that several implementations by others quote from it;
// tests/cli/modbus_frames_test.py has pymodbus make the same frames, CRC and all, and tests/drive
// runs the same functions against libmodbus.
#include "catch.hpp"
#include "whirler/modbus/frame.hpp"

#include <stdexcept>

using namespace whirler;
using namespace whirler::modbus;

namespace {

using Bytes = std::vector<std::uint8_t>;

/// The specification gives the frame without unit and CRC: both are put round it.
Bytes framed(std::uint8_t unit, Bytes pdu) {
  pdu.insert(pdu.begin(), unit);
  const auto sum = crc(pdu);
  pdu.push_back(static_cast<std::uint8_t>(sum & 0xFF));
  pdu.push_back(static_cast<std::uint8_t>(sum >> 8));
  return pdu;
}

const Request kRead = read_request(17, Function::read_holding, 0x006B, 3);

} // namespace

TEST_CASE("published: the CRC of 02 07 goes out as 41 12 (SL 6.2.2, from memory)") {
  CHECK(crc(Bytes{0x02, 0x07}) == 0x1241);
}

TEST_CASE("published: the CRC of \"123456789\" is 4B37, the check value by which catalogues of "
          "CRCs name this one") {
  CHECK(crc(Bytes{'1', '2', '3', '4', '5', '6', '7', '8', '9'}) == 0x4B37);
}

TEST_CASE("published: reading three holding registers from 107 (AP 6.3, from memory)") {
  CHECK(encode(kRead) == framed(17, {0x03, 0x00, 0x6B, 0x00, 0x03}));
  const auto answer = framed(17, {0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64});
  const auto reply = find_reply(kRead, answer);
  REQUIRE(reply.has_value());
  CHECK(reply->values == std::vector<std::uint16_t>{0x022B, 0x0000, 0x0064});
  CHECK(encode_reply(kRead, reply->values) == answer);
  CHECK(reply_size(kRead) == answer.size());
}

TEST_CASE("a character more makes any frame one with a wrong CRC") {
  for (int i = 0; i <= 0xFFFF; i += 7) {
    const auto value = static_cast<std::uint16_t>(i);
    Bytes frame = encode(write_request(17, Function::write_one, value, {value}));
    CHECK(crc(frame) == 0); // what a receiver finds of a whole one
    frame.push_back(voiding(frame));
    CHECK(crc(frame) != 0);
  }
}

TEST_CASE("published: reading one input register from 8 (AP 6.4, from memory)") {
  const auto request = read_request(1, Function::read_input, 8, 1);
  CHECK(encode(request) == framed(1, {0x04, 0x00, 0x08, 0x00, 0x01}));
  const auto reply = find_reply(request, framed(1, {0x04, 0x02, 0x00, 0x0A}));
  REQUIRE(reply.has_value());
  CHECK(reply->values == std::vector<std::uint16_t>{10});
}

TEST_CASE("published: writing 3 to register 1 is echoed whole (AP 6.6, from memory)") {
  const auto request = write_request(1, Function::write_one, 1, {3});
  const auto frame = framed(1, {0x06, 0x00, 0x01, 0x00, 0x03});
  CHECK(encode(request) == frame);
  CHECK(find_reply(request, frame).has_value());
}

TEST_CASE("published: writing 10 and 258 to two registers from 1 (AP 6.12, from memory)") {
  const auto request = write_request(1, Function::write_many, 1, {0x000A, 0x0102});
  CHECK(encode(request) == framed(1, {0x10, 0x00, 0x01, 0x00, 0x02, 0x04, 0x00, 0x0A, 0x01, 0x02}));
  const auto answer = framed(1, {0x10, 0x00, 0x01, 0x00, 0x02});
  CHECK(encode_reply(request, {}) == answer);
  CHECK(find_reply(request, answer).has_value());
}

TEST_CASE("published: reading coils 20 to 38 (AP 6.1, from memory)") {
  const auto request = read_request(1, Function::read_coils, 0x0013, 19);
  CHECK(encode(request) == Bytes{0x01, 0x01, 0x00, 0x13, 0x00, 0x13, 0x8C, 0x02});
  const auto answer = framed(1, {0x01, 0x03, 0xCD, 0x6B, 0x05});
  const auto reply = find_reply(request, answer);
  REQUIRE(reply.has_value());
  // Outputs 27 to 20 are CD, 35 to 28 are 6B, 38 to 36 are 5.
  CHECK(reply->values == std::vector<std::uint16_t>{0x6BCD, 0x0005});
  CHECK(encode_reply(request, reply->values) == answer);
  CHECK(reply_size(request) == answer.size());
}

TEST_CASE("published: reading discrete inputs 197 to 218 (AP 6.2, from memory)") {
  const auto request = read_request(1, Function::read_discrete, 0x00C4, 22);
  CHECK(encode(request) == Bytes{0x01, 0x02, 0x00, 0xC4, 0x00, 0x16, 0xB8, 0x39});
  const auto reply = find_reply(request, Bytes{0x01, 0x02, 0x03, 0xAC, 0xDB, 0x35, 0x22, 0x88});
  REQUIRE(reply.has_value());
  CHECK(reply->values == std::vector<std::uint16_t>{0xDBAC, 0x0035});
}

TEST_CASE("published: switching coil 173 on is FF 00, and echoed whole (AP 6.5, from memory)") {
  const auto request = write_request(1, Function::write_coil, 0x00AC, {1});
  const auto frame = framed(1, {0x05, 0x00, 0xAC, 0xFF, 0x00});
  CHECK(encode(request) == frame);
  CHECK(find_reply(request, frame).has_value());
  CHECK(encode_reply(request, {}) == frame);
  const auto off = framed(1, {0x05, 0x00, 0xAC, 0x00, 0x00});
  CHECK(encode(write_request(1, Function::write_coil, 0x00AC, {0})) == off);
  CHECK_FALSE(find_reply(request, off).has_value()); // an echo of something else
}

TEST_CASE("published: an exception to the reading of a coil is 81 02 (AP 7, from memory)") {
  const auto request = read_request(10, Function::read_coils, 0x04A1, 1);
  CHECK(encode(request) == framed(10, {0x01, 0x04, 0xA1, 0x00, 0x01}));
  const auto reply = find_reply(request, framed(10, {0x81, 0x02}));
  REQUIRE(reply.has_value());
  CHECK(*reply->exception == 2);
}

TEST_CASE("published: an exception is the function with its top bit set and a code (AP 7)") {
  const auto reply = find_reply(kRead, framed(17, {0x83, 0x02}));
  REQUIRE(reply.has_value());
  REQUIRE(reply->exception.has_value());
  CHECK(*reply->exception == 2);
  CHECK(exception_text(2) == "02, it has no such register or coil");
  CHECK(exception_text(0x42) == "42, not in the standard");
  CHECK(encode_exception(kRead, 2) == framed(17, {0x83, 0x02}));
}

TEST_CASE("published: silence is 3.5 characters of 11 bits, and 1.75 ms above 19200 baud (SL "
          "2.5.1.1)") {
  CHECK(silence({9600, Parity::even, 1}).ms() == Approx(3.5 * 11 / 9.6));
  CHECK(silence({19200, Parity::even, 1}).ms() == Approx(2.005).epsilon(1e-3));
  CHECK(silence({19200, Parity::none, 1}).ms() == Approx(3.5 * 10 / 19.2));
  CHECK(silence({38400, Parity::even, 1}).ms() == Approx(1.75));
  CHECK(silence({115200, Parity::none, 2}).ms() == Approx(1.75));
}

TEST_CASE("modbus: the broadcast, and counts that the standard does not allow, are never sent") {
  for (const auto& request :
       {write_request(0, Function::write_one, 1, {1}),
        read_request(248, Function::read_holding, 0, 1),
        read_request(1, Function::read_holding, 0, 0),
        read_request(1, Function::read_input, 0, 126),
        read_request(1, Function::read_input, 0xFFFF, 2),
        write_request(1, Function::write_many, 0, {}),
        write_request(1, Function::write_many, 0, std::vector<std::uint16_t>(124)),
        write_request(1, Function::write_one, 0, {1, 2}),
        write_request(1, Function::write_coil, 0, {2}), read_request(1, Function::read_coils, 0, 0),
        read_request(1, Function::read_discrete, 0, 2001)})
    CHECK_THROWS_AS(encode(request), std::invalid_argument);
}

TEST_CASE("modbus: one bit wrong anywhere in a reply, and it is no reply") {
  const auto good = framed(17, {0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64});
  for (std::size_t bit = 0; bit < 8 * good.size(); ++bit) {
    auto bad = good;
    bad[bit / 8] = static_cast<std::uint8_t>(bad[bit / 8] ^ (1U << (bit % 8)));
    CAPTURE(bit);
    CHECK_FALSE(find_reply(kRead, bad).has_value());
    CHECK(what_was_heard(kRead, bad) != Heard::nothing);
  }
}

TEST_CASE("modbus: a reply is found behind a glitch, behind another unit's frame, and behind its "
          "own question") {
  const auto answer = framed(17, {0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64});
  for (const auto& before :
       {Bytes{0x00}, Bytes{0xFF, 0x11}, framed(9, {0x03, 0x02, 0x00, 0x01}), encode(kRead)}) {
    auto heard = before;
    heard.insert(heard.end(), answer.begin(), answer.end());
    const auto reply = find_reply(kRead, heard);
    REQUIRE(reply.has_value());
    CHECK(reply->from == before.size());
    CHECK(reply->to == heard.size());
    CHECK(reply->values[0] == 0x022B);
  }
}

TEST_CASE("modbus: what answers another question is no reply") {
  // Two registers where three were asked for; another function; another unit; another address.
  CHECK_FALSE(find_reply(kRead, framed(17, {0x03, 0x04, 0, 1, 0, 2})).has_value());
  CHECK_FALSE(find_reply(kRead, framed(17, {0x04, 0x06, 0, 1, 0, 2, 0, 3})).has_value());
  CHECK_FALSE(find_reply(kRead, framed(18, {0x03, 0x06, 0, 1, 0, 2, 0, 3})).has_value());
  CHECK_FALSE(find_reply(kRead, framed(17, {0x84, 0x02})).has_value());
  const auto write = write_request(1, Function::write_one, 5, {1});
  CHECK_FALSE(find_reply(write, framed(1, {0x06, 0x00, 0x05, 0x00, 0x02})).has_value());
  CHECK_FALSE(find_reply(write, framed(1, {0x06, 0x00, 0x06, 0x00, 0x01})).has_value());
}

TEST_CASE("modbus: what was heard instead is said for what it is") {
  CHECK(what_was_heard(kRead, {}) == Heard::nothing);
  CHECK(what_was_heard(kRead, encode(kRead)) == Heard::own_echo);
  CHECK(what_was_heard(kRead, framed(9, {0x03, 0x02, 0x00, 0x01})) == Heard::other_unit);
  CHECK(what_was_heard(kRead, framed(17, {0x03, 0x02, 0x00, 0x01})) == Heard::other_answer);
  auto cut = framed(17, {0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64});
  cut.back() ^= 0x01;
  CHECK(what_was_heard(kRead, cut) == Heard::damaged);
  cut.pop_back();
  CHECK(what_was_heard(kRead, cut) == Heard::too_short);
}
