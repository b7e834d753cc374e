// What a register's words mean: data type, word order, scale and offset.
//
//   value = offset + scale * count
//
// A value that the register cannot hold is none, never the nearest that it can: a speed that wraps
// or is clipped is another speed than was asked for.
#pragma once

#include "whirler/modbus/frame.hpp"

#include <cmath>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::modbus {

enum class DataType { u16, s16, u32, s32, f32 };
/// Of the two words of a 32-bit value. The bytes of a word are always high first.
enum class WordOrder { high_first, low_first };

/// One value's place in a drive: a register, two of them, or coils or discrete inputs.
struct Cell {
  std::uint16_t address = 0;
  DataType type = DataType::u16;
  WordOrder order = WordOrder::high_first;
  Function function = Function::read_holding; ///< that reads it, or writes it
  std::uint16_t bits = 1; ///< of coils and discrete inputs: how many are read as one word

  [[nodiscard]] std::uint16_t words() const {
    return type == DataType::u16 || type == DataType::s16 ? 1 : 2;
  }
  /// What a question for it counts.
  [[nodiscard]] std::uint16_t count() const { return is_of_bits(function) ? bits : words(); }
  friend bool operator==(const Cell&, const Cell&) = default;
};

/// The words for a count, rounded to the nearest whole one (f32: to the nearest float). None where
/// the type cannot hold it, or it is no number.
[[nodiscard]] std::optional<std::vector<std::uint16_t>> to_words(const Cell& cell, double count);
/// The count that the words say; not finite where an f32 is not. `words` has the cell's number.
[[nodiscard]] double from_words(const Cell& cell, std::span<const std::uint16_t> words);
/// A word as manuals write it: "0x006F".
[[nodiscard]] std::string word_text(std::uint16_t word);
/// The largest and smallest count that the type holds.
[[nodiscard]] double highest_count(DataType type);
[[nodiscard]] double lowest_count(DataType type);

/// A quantity in a register.
template <class Q>
struct Scaled {
  Cell cell;
  Q scale; ///< of one count; above zero
  Q offset;

  [[nodiscard]] std::optional<std::vector<std::uint16_t>> words_for(Q value) const {
    return to_words(cell, (value - offset) / scale);
  }
  [[nodiscard]] Q value_of(std::span<const std::uint16_t> words) const {
    return offset + from_words(cell, words) * scale;
  }
  [[nodiscard]] Q highest() const { return offset + highest_count(cell.type) * scale; }
  [[nodiscard]] Q lowest() const { return offset + lowest_count(cell.type) * scale; }
  /// What the register will hold where it is asked for `value`.
  [[nodiscard]] std::optional<Q> rounded(Q value) const {
    const auto words = words_for(value);
    return words ? std::optional<Q>(value_of(*words)) : std::nullopt;
  }
};

} // namespace whirler::modbus
