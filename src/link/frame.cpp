#include "whirler/link/frame.hpp"

#include <boost/crc.hpp>

#include <algorithm>
#include <stdexcept>

namespace whirler::link {
namespace {

void stuff(std::vector<std::uint8_t>& out, std::uint8_t byte) {
  if (is_reserved(byte)) {
    out.push_back(kEscape);
    byte ^= kEscapeFlip;
  }
  out.push_back(byte);
}

std::uint32_t crc_at_end(std::span<const std::uint8_t> body) {
  std::uint32_t crc = 0;
  for (std::size_t i = 0; i < kCrcBytes; ++i)
    crc |= std::uint32_t{body[body.size() - kCrcBytes + i]} << (8 * i);
  return crc;
}

} // namespace

std::uint32_t crc32(std::span<const std::uint8_t> bytes) {
  boost::crc_32_type crc;
  crc.process_bytes(bytes.data(), bytes.size());
  return crc.checksum();
}

std::vector<std::uint8_t> encode_frame(std::uint8_t type, std::uint8_t seq,
                                       std::span<const std::uint8_t> payload) {
  if (payload.size() > kMaxDriverPayload)
    throw std::length_error("a frame's payload is too long");
  std::vector<std::uint8_t> body{type, seq, static_cast<std::uint8_t>(payload.size())};
  body.insert(body.end(), payload.begin(), payload.end());
  const std::uint32_t crc = crc32(body);
  for (std::size_t i = 0; i < kCrcBytes; ++i)
    body.push_back(static_cast<std::uint8_t>(crc >> (8 * i)));
  std::vector<std::uint8_t> line{kFlag};
  line.reserve(body.size() + 8);
  for (const std::uint8_t byte : body)
    stuff(line, byte);
  line.push_back(kFlag);
  return line;
}

std::vector<Frame> Decoder::feed(std::span<const std::uint8_t> received) {
  std::vector<Frame> found;
  feed(received, [&found](const Frame& frame) { found.push_back(frame); });
  return found;
}

bool Decoder::take(std::uint8_t byte) {
  if (byte == kFlag)
    return close();
  if (is_stop_byte(byte)) {
    spoil(Discard::bad_escape);
  } else if (escaped_) {
    escaped_ = false;
    const auto plain = static_cast<std::uint8_t>(byte ^ kEscapeFlip);
    if (is_reserved(plain))
      add(plain);
    else
      spoil(Discard::bad_escape);
  } else if (byte == kEscape) {
    escaped_ = true;
  } else {
    add(byte);
  }
  return false;
}

void Decoder::add(std::uint8_t byte) {
  if (size_ == kHeadBytes + max_payload_ + kCrcBytes)
    spoil(Discard::too_long);
  else
    held_[size_++] = byte;
}

void Decoder::spoil(Discard why) {
  if (spoilt_ == Discard::none)
    spoilt_ = why;
}

/// What stands between the last flag and this one: nothing, a frame, or damage.
bool Decoder::close() {
  const auto body = std::span<const std::uint8_t>(held_).first(size_);
  const bool nothing = body.empty() && !escaped_ && spoilt_ == Discard::none;
  Discard fault = spoilt_;
  if (fault == Discard::none && escaped_)
    fault = Discard::bad_escape;
  if (fault == Discard::none && body.size() < kHeadBytes + kCrcBytes)
    fault = Discard::too_short;
  if (fault == Discard::none && body.size() != kHeadBytes + body[2] + kCrcBytes)
    fault = Discard::bad_length;
  if (fault == Discard::none && crc32(body.first(body.size() - kCrcBytes)) != crc_at_end(body))
    fault = Discard::bad_crc;
  size_ = 0;
  escaped_ = false;
  spoilt_ = Discard::none;
  if (nothing)
    return false;
  if (fault != Discard::none) {
    ++discarded_;
    last_discard_ = fault;
    return false;
  }
  frame_.type = body[0];
  frame_.seq = body[1];
  frame_.size = body[2];
  std::copy_n(body.begin() + kHeadBytes, frame_.size, frame_.bytes.begin());
  ++frames_;
  return true;
}

} // namespace whirler::link
