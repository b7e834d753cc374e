#include "whirler/modbus/frame.hpp"

#include <boost/crc.hpp>

#include <algorithm>
#include <array>
#include <stdexcept>

namespace whirler::modbus {
namespace {

constexpr std::uint8_t kRefused = 0x80; // added to the function's code in an exception reply
constexpr std::size_t kExceptionSize = 5;
constexpr std::size_t kShortestFrame = 4;
constexpr std::uint16_t kCoilOn = 0xFF00; // application protocol, 6.5; off is 0

std::uint8_t code_of(Function function) { return static_cast<std::uint8_t>(function); }
std::uint8_t high(std::uint16_t word) { return static_cast<std::uint8_t>(word >> 8U); }
std::uint8_t low(std::uint16_t word) { return static_cast<std::uint8_t>(word & 0xFFU); }

void put(std::vector<std::uint8_t>& bytes, std::uint16_t word) {
  bytes.push_back(high(word));
  bytes.push_back(low(word));
}

std::uint16_t word_at(std::span<const std::uint8_t> bytes, std::size_t at) {
  return static_cast<std::uint16_t>((bytes[at] << 8U) | bytes[at + 1]);
}

std::vector<std::uint8_t> closed(std::vector<std::uint8_t> bytes) {
  const std::uint16_t sum = crc(bytes);
  bytes.push_back(low(sum));
  bytes.push_back(high(sum));
  return bytes;
}

bool sum_agrees(std::span<const std::uint8_t> frame) {
  const auto sum = crc(frame.first(frame.size() - 2));
  return frame[frame.size() - 2] == low(sum) && frame[frame.size() - 1] == high(sum);
}

bool is_sound(const Request& request) {
  const auto values = static_cast<int>(request.values.size());
  if (request.unit < kUnitLowest || request.unit > kUnitHighest)
    return false;
  switch (request.function) {
  case Function::read_coils:
  case Function::read_discrete:
    return values == 0 && request.count >= 1 && request.count <= kBitsMost &&
           request.address + request.count <= 0x10000;
  case Function::write_coil:
    return values == 1 && request.values.front() <= 1;
  case Function::read_holding:
  case Function::read_input:
    return values == 0 && request.count >= 1 && request.count <= kReadMost &&
           request.address + request.count <= 0x10000;
  case Function::write_one:
    return values == 1;
  case Function::write_many:
    return values >= 1 && values <= kWriteMost && request.address + values <= 0x10000;
  }
  return false;
}

/// A value as it goes on the line.
std::uint16_t sent(const Request& request, std::uint16_t value) {
  return request.function != Function::write_coil || value == 0 ? value : kCoilOn;
}

/// Bytes of what was read, in a good reply.
std::size_t data_size(const Request& request) {
  const std::size_t count = request.count;
  return is_of_bits(request.function) ? (count + 7) / 8 : 2 * count;
}

/// What stands after the function in a good reply to a write: the request's own words.
std::vector<std::uint8_t> echo_of(const Request& request) {
  std::vector<std::uint8_t> bytes;
  put(bytes, request.address);
  put(bytes, request.function == Function::write_many
                 ? static_cast<std::uint16_t>(request.values.size())
                 : sent(request, request.values.front()));
  return bytes;
}

/// `bytes` begins where a reply might.
bool answers(const Request& request, std::span<const std::uint8_t> frame) {
  if (is_read(request.function))
    return frame[2] == data_size(request);
  const auto echo = echo_of(request);
  return std::equal(echo.begin(), echo.end(), frame.begin() + 2);
}

/// The words of a read's data.
std::vector<std::uint16_t> words_of(const Request& request, std::span<const std::uint8_t> data) {
  std::vector<std::uint16_t> words;
  if (is_of_bits(request.function))
    for (std::size_t i = 0; i < data.size(); i += 2)
      words.push_back(
          static_cast<std::uint16_t>(data[i] | (i + 1 < data.size() ? data[i + 1] << 8U : 0)));
  else
    for (std::size_t i = 0; i < data.size(); i += 2)
      words.push_back(word_at(data, i));
  return words;
}

std::optional<Reply> reply_at(const Request& request, std::span<const std::uint8_t> heard,
                              std::size_t from) {
  const auto rest = heard.subspan(from);
  if (rest.size() < kExceptionSize || rest[0] != request.unit)
    return std::nullopt;
  Reply reply;
  reply.from = from;
  if (rest[1] == (code_of(request.function) | kRefused) && sum_agrees(rest.first(kExceptionSize))) {
    reply.exception = rest[2];
    reply.to = from + kExceptionSize;
    return reply;
  }
  const std::size_t size = reply_size(request);
  if (rest[1] != code_of(request.function) || rest.size() < size ||
      !answers(request, rest.first(size)) || !sum_agrees(rest.first(size)))
    return std::nullopt;
  if (is_read(request.function))
    reply.values = words_of(request, rest.subspan(3, data_size(request)));
  reply.to = from + size;
  return reply;
}

std::string hex_text(unsigned value, int digits) {
  std::string text;
  for (int shift = 4 * (digits - 1); shift >= 0; shift -= 4)
    text += "0123456789ABCDEF"[(value >> static_cast<unsigned>(shift)) & 0xFU];
  return text;
}

} // namespace

Request read_request(std::uint8_t unit, Function function, std::uint16_t address,
                     std::uint16_t count) {
  return {unit, function, address, count, {}};
}

Request write_request(std::uint8_t unit, Function function, std::uint16_t address,
                      std::vector<std::uint16_t> values) {
  return {unit, function, address, 0, std::move(values)};
}

std::uint16_t crc(std::span<const std::uint8_t> bytes) {
  boost::crc_optimal<16, 0x8005, 0xFFFF, 0, true, true> sum;
  sum.process_bytes(bytes.data(), bytes.size());
  return static_cast<std::uint16_t>(sum.checksum());
}

std::vector<std::uint8_t> encode(const Request& request) {
  if (!is_sound(request))
    throw std::invalid_argument("a Modbus request out of its limits");
  std::vector<std::uint8_t> bytes{request.unit, code_of(request.function)};
  put(bytes, request.address);
  if (is_read(request.function))
    put(bytes, request.count);
  if (request.function == Function::write_many) {
    put(bytes, static_cast<std::uint16_t>(request.values.size()));
    bytes.push_back(static_cast<std::uint8_t>(2 * request.values.size()));
  }
  for (const auto value : request.values)
    put(bytes, sent(request, value));
  return closed(std::move(bytes));
}

std::vector<std::uint8_t> encode_reply(const Request& request,
                                       std::span<const std::uint16_t> values) {
  std::vector<std::uint8_t> bytes{request.unit, code_of(request.function)};
  if (is_read(request.function)) {
    const bool of_bits = is_of_bits(request.function);
    const std::size_t size = std::min(of_bits ? data_size(request) : kFrameMost, 2 * values.size());
    bytes.push_back(static_cast<std::uint8_t>(size));
    for (std::size_t i = 0; i < size; ++i)
      bytes.push_back((i % 2 == 0) == of_bits ? low(values[i / 2]) : high(values[i / 2]));
  } else {
    const auto echo = echo_of(request);
    bytes.insert(bytes.end(), echo.begin(), echo.end());
  }
  return closed(std::move(bytes));
}

std::vector<std::uint8_t> encode_exception(const Request& request, std::uint8_t code) {
  return closed(
      {request.unit, static_cast<std::uint8_t>(code_of(request.function) | kRefused), code});
}

std::size_t reply_size(const Request& request) {
  return is_read(request.function) ? 5 + data_size(request) : 8;
}

std::optional<Reply> find_reply(const Request& request, std::span<const std::uint8_t> heard) {
  for (std::size_t from = 0; from + kExceptionSize <= heard.size(); ++from)
    if (auto reply = reply_at(request, heard, from))
      return reply;
  return std::nullopt;
}

Heard what_was_heard(const Request& request, std::span<const std::uint8_t> heard) {
  if (heard.empty())
    return Heard::nothing;
  const auto own = encode(request);
  if (heard.size() >= own.size() && std::equal(own.begin(), own.end(), heard.begin()))
    return Heard::own_echo;
  for (std::size_t size = kShortestFrame; size <= std::min(heard.size(), kFrameMost); ++size)
    if (sum_agrees(heard.first(size)))
      return heard[0] == request.unit ? Heard::other_answer : Heard::other_unit;
  const bool refusal = heard.size() > 1 && heard[1] == (code_of(request.function) | kRefused);
  return heard.size() < (refusal ? kExceptionSize : reply_size(request)) ? Heard::too_short
                                                                         : Heard::damaged;
}

std::string_view to_text(Heard heard) {
  constexpr std::array<std::string_view, 6> kWords{
      "nothing",
      "the beginning of a reply only",
      "a damaged reply (wrong CRC)",
      "another unit",
      "an answer to something else",
      "its own request (the adapter hears what it sends: switch that echo off)"};
  return kWords.at(static_cast<std::size_t>(heard));
}

std::string exception_text(std::uint8_t code, Function asked) {
  constexpr std::uint8_t kValue = 3;
  if (code == kValue && is_read(asked))
    return hex_text(code, 2) + ", it does not read so many of them at once";
  constexpr std::array<std::string_view, 12> kWords{"",
                                                    "it does not know the function",
                                                    "it has no such register or coil",
                                                    "it does not take the value",
                                                    "it failed while it did what was asked",
                                                    "it needs longer and has not finished",
                                                    "it is busy",
                                                    "",
                                                    "its memory is damaged",
                                                    "",
                                                    "the gateway has no path to it",
                                                    "it does not answer the gateway"};
  const std::string_view words = code < kWords.size() ? kWords[code] : "";
  return hex_text(code, 2) + ", " + (words.empty() ? "not in the standard" : std::string(words));
}

std::string to_text(const Request& request) {
  const std::string place =
      std::to_string(request.address) + " (0x" + hex_text(request.address, 4) + ")";
  const std::string what = request.function == Function::read_discrete ? "discrete input"
                           : is_of_bits(request.function)              ? "coil"
                                                                       : "register";
  if (is_read(request.function))
    return request.count == 1
               ? "reading " + what + " " + place
               : "reading " + std::to_string(request.count) + " " + what + "s from " + place;
  std::string values;
  for (const auto value : request.values)
    values += (values.empty() ? "" : " ") + std::to_string(value);
  return "writing " + values + " to " + what + " " + place;
}

std::uint8_t voiding(std::span<const std::uint8_t> frame) {
  // The last two characters would be the CRC of those before them, the low byte first.
  const std::uint16_t sum = crc(frame.first(frame.size() - 1));
  return static_cast<std::uint8_t>(~(sum >> 8U));
}

Duration silence(const LineFormat& line) {
  constexpr int kFastest = 19200; // above it the guide recommends fixed times
  if (line.baud > kFastest)
    return milliseconds(1.75);
  return 3.5 * line.time_of(1);
}

} // namespace whirler::modbus
