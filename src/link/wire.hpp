// Little-endian fields of a payload, written and read in order. Inside the room only.
#pragma once

#include "whirler/units/quantities.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

namespace whirler::link {

/// A non-negative value in the line's unit, rounded. Negative and not-a-number: 0; too large: the
/// largest `T`.
template <class T>
[[nodiscard]] T to_wire(double value) {
  constexpr auto kMost = static_cast<double>(std::numeric_limits<T>::max());
  if (!(value > 0.0))
    return 0;
  return value >= kMost ? std::numeric_limits<T>::max() : static_cast<T>(std::llround(value));
}

[[nodiscard]] inline std::uint32_t wire_speed(Speed s) {
  return to_wire<std::uint32_t>(s.rpm() * 1e3);
}
[[nodiscard]] inline std::uint32_t wire_slope(Ramp r) {
  return to_wire<std::uint32_t>(r.rpm_per_s() * 1e3);
}
[[nodiscard]] inline Speed speed_from_wire(std::uint32_t v) { return rpm(v / 1e3); }
[[nodiscard]] inline Ramp slope_from_wire(std::uint32_t v) { return rpm_per_s(v / 1e3); }

class Writer {
 public:
  Writer& u8(std::uint8_t v) {
    bytes_.push_back(v);
    return *this;
  }
  Writer& u16(std::uint16_t v) { return little_endian(v, 2); }
  Writer& u32(std::uint32_t v) { return little_endian(v, 4); }
  Writer& varint(std::uint32_t v) {
    for (; v > 0x7F; v >>= 7)
      u8(static_cast<std::uint8_t>(v | 0x80));
    return u8(static_cast<std::uint8_t>(v));
  }
  [[nodiscard]] const std::vector<std::uint8_t>& bytes() const { return bytes_; }

 private:
  Writer& little_endian(std::uint32_t v, int count) {
    for (int i = 0; i < count; ++i)
      u8(static_cast<std::uint8_t>(v >> (8 * i)));
    return *this;
  }
  std::vector<std::uint8_t> bytes_;
};

/// Reads never go past the end: they give 0 and `ok()` turns false for good.
class Reader {
 public:
  explicit Reader(std::span<const std::uint8_t> bytes) : bytes_(bytes) {}
  std::uint8_t u8() {
    if (at_ >= bytes_.size()) {
      ok_ = false;
      return 0;
    }
    return bytes_[at_++];
  }
  std::uint16_t u16() { return static_cast<std::uint16_t>(little_endian(2)); }
  std::uint32_t u32() { return little_endian(4); }
  std::uint32_t varint() {
    std::uint64_t value = 0;
    for (int shift = 0; shift < 35; shift += 7) {
      const std::uint8_t byte = u8();
      value |= std::uint64_t{byte & 0x7Fu} << shift;
      if ((byte & 0x80u) == 0) {
        ok_ = ok_ && value <= std::numeric_limits<std::uint32_t>::max();
        return static_cast<std::uint32_t>(value);
      }
    }
    ok_ = false;
    return 0;
  }
  [[nodiscard]] std::size_t left() const { return bytes_.size() - at_; }
  [[nodiscard]] bool ok() const { return ok_; }
  /// All read, and nothing left over.
  [[nodiscard]] bool finished() const { return ok_ && left() == 0; }

 private:
  std::uint32_t little_endian(int count) {
    std::uint32_t value = 0;
    for (int i = 0; i < count; ++i)
      value |= std::uint32_t{u8()} << (8 * i);
    return value;
  }
  std::span<const std::uint8_t> bytes_;
  std::size_t at_ = 0;
  bool ok_ = true;
};

} // namespace whirler::link
