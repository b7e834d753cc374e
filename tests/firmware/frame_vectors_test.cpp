// The firmware's frames against the protocol's worked ones: the same file, bit for bit, that the
// host's own encoder is tested with.
#include "catch.hpp"

extern "C" {
#include "frame.h"
#include "message.h"
#include "program.h"
}

#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace {

using Bytes = std::vector<std::uint8_t>;

Bytes bytes_of(const std::string& hex) {
  Bytes bytes;
  if (hex == "-")
    return bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    bytes.push_back(static_cast<std::uint8_t>(std::stoul(hex.substr(i, 2), nullptr, 16)));
  return bytes;
}

std::vector<std::vector<std::string>> vectors(const std::string& kind) {
  std::ifstream file(std::string(WHIRLER_SOURCE_DIR) + "/tests/link/vectors.txt");
  REQUIRE(file);
  std::vector<std::vector<std::string>> found;
  for (std::string line; std::getline(file, line);) {
    std::istringstream words(line);
    std::vector<std::string> record;
    for (std::string word; words >> word;)
      record.push_back(word);
    if (!record.empty() && record.front() == kind)
      found.push_back(record);
  }
  REQUIRE_FALSE(found.empty());
  return found;
}

Bytes sent;
void collect(std::uint8_t byte) { sent.push_back(byte); }

struct Read {
  Bytes last;
  int frames = 0;
  int discarded = 0;
};

/// What the receive interrupt hands on, given to the reader.
Read read(const Bytes& wire) {
  frame_reader reader{};
  Read result;
  for (const std::uint8_t byte : wire) {
    if (byte == STOP_BYTE_CUT || byte == STOP_BYTE_STOP)
      continue;
    if (frame_take(&reader, byte)) {
      ++result.frames;
      result.last.assign(reader.bytes, reader.bytes + FRAME_HEAD + reader.bytes[2]);
    }
  }
  result.discarded = reader.discarded;
  return result;
}

} // namespace

TEST_CASE("exact: every worked frame leaves the firmware as the protocol has it") {
  for (const auto& record : vectors("frame")) {
    CAPTURE(record[1]);
    const Bytes payload = bytes_of(record[5]);
    sent.clear();
    frame_send(collect, bytes_of(record[3])[0], bytes_of(record[4])[0], payload.data(),
               static_cast<std::uint8_t>(payload.size()));
    CHECK(sent == bytes_of(record[6]));
  }
}

TEST_CASE("exact: every worked frame of a host is read by the firmware as it was meant") {
  for (const auto& record : vectors("frame")) {
    if (record[2] != "host")
      continue;
    CAPTURE(record[1]);
    const Read result = read(bytes_of(record[6]));
    const Bytes payload = bytes_of(record[5]);
    Bytes whole{bytes_of(record[3])[0], bytes_of(record[4])[0],
                static_cast<std::uint8_t>(payload.size())};
    whole.insert(whole.end(), payload.begin(), payload.end());
    CHECK(result.frames == 1);
    CHECK(result.discarded == 0);
    CHECK(result.last == whole);
  }
}

TEST_CASE(
    "exact: the firmware counts frames and damage in every worked stream as the protocol does") {
  for (const auto& record : vectors("stream")) {
    if (record[2] != "driver")
      continue;
    CAPTURE(record[1]);
    const Read result = read(bytes_of(record[3]));
    CHECK("frames=" + std::to_string(result.frames) == record[4]);
    CHECK("discarded=" + std::to_string(result.discarded) == record[5]);
  }
}

TEST_CASE("exact: the firmware finds the worked programs' CRC over the segments it holds") {
  for (const auto& record : vectors("program")) {
    CAPTURE(record[1]);
    const Bytes payloads = bytes_of(record[2]);
    const limits all{0xFFFFFFFF, 0, 0xFFFFFFFF};
    program held{};
    for (std::size_t at = 0; at < payloads.size(); at += SEGMENT_SIZE)
      REQUIRE(program_take(&held, &all, payloads.data() + at).code == NAK_NONE);
    start asked{};
    asked.segments = static_cast<std::uint8_t>(payloads.size() / SEGMENT_SIZE);
    asked.stop_slope = 1;
    asked.ceiling = 0xFFFFFFFF;
    asked.program_crc = static_cast<std::uint32_t>(std::stoul(record[3], nullptr, 16));
    CHECK(program_check(&held, &all, &asked).code == NAK_NONE);
    asked.program_crc ^= 1;
    CHECK(program_check(&held, &all, &asked).code == NAK_PROGRAM_DIFFERS);
  }
}
