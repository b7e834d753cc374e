#include "whirler/modbus/registers.hpp"

#include <bit>
#include <limits>
#include <utility>

namespace whirler::modbus {
namespace {

std::vector<std::uint16_t> two_words(std::uint32_t bits, WordOrder order) {
  std::vector<std::uint16_t> words{static_cast<std::uint16_t>(bits >> 16U),
                                   static_cast<std::uint16_t>(bits & 0xFFFFU)};
  if (order == WordOrder::low_first)
    std::swap(words[0], words[1]);
  return words;
}

std::uint32_t bits_of(const Cell& cell, std::span<const std::uint16_t> words) {
  const bool high_first = cell.order == WordOrder::high_first;
  const std::uint32_t top = words[high_first ? 0 : 1];
  return (top << 16U) | words[high_first ? 1 : 0];
}

} // namespace

std::string word_text(std::uint16_t word) {
  std::string text = "0x";
  for (int shift = 12; shift >= 0; shift -= 4)
    text += "0123456789ABCDEF"[(word >> static_cast<unsigned>(shift)) & 0xFU];
  return text;
}

double highest_count(DataType type) {
  switch (type) {
  case DataType::u16:
    return std::numeric_limits<std::uint16_t>::max();
  case DataType::s16:
    return std::numeric_limits<std::int16_t>::max();
  case DataType::u32:
    return std::numeric_limits<std::uint32_t>::max();
  case DataType::s32:
    return std::numeric_limits<std::int32_t>::max();
  case DataType::f32:
    break;
  }
  return static_cast<double>(std::numeric_limits<float>::max());
}

double lowest_count(DataType type) {
  switch (type) {
  case DataType::u16:
  case DataType::u32:
    return 0.0;
  case DataType::s16:
    return std::numeric_limits<std::int16_t>::min();
  case DataType::s32:
    return std::numeric_limits<std::int32_t>::min();
  case DataType::f32:
    break;
  }
  return static_cast<double>(std::numeric_limits<float>::lowest());
}

std::optional<std::vector<std::uint16_t>> to_words(const Cell& cell, double count) {
  const double value = cell.type == DataType::f32 ? count : std::round(count);
  if (!(value >= lowest_count(cell.type) && value <= highest_count(cell.type)))
    return std::nullopt; // not a number compares false
  switch (cell.type) {
  case DataType::u16:
    return std::vector{static_cast<std::uint16_t>(value)};
  case DataType::s16:
    return std::vector{static_cast<std::uint16_t>(static_cast<std::int16_t>(value))};
  case DataType::u32:
    return two_words(static_cast<std::uint32_t>(value), cell.order);
  case DataType::s32:
    return two_words(static_cast<std::uint32_t>(static_cast<std::int32_t>(value)), cell.order);
  case DataType::f32:
    break;
  }
  return two_words(std::bit_cast<std::uint32_t>(static_cast<float>(value)), cell.order);
}

double from_words(const Cell& cell, std::span<const std::uint16_t> words) {
  switch (cell.type) {
  case DataType::u16:
    return words[0];
  case DataType::s16:
    return static_cast<std::int16_t>(words[0]);
  case DataType::u32:
    return bits_of(cell, words);
  case DataType::s32:
    return static_cast<std::int32_t>(bits_of(cell, words));
  case DataType::f32:
    break;
  }
  return static_cast<double>(std::bit_cast<float>(bits_of(cell, words)));
}

} // namespace whirler::modbus
