// The parts that a drive file is made of: a register's keys, 16-bit words as drive manuals write
// them, and sequences of steps.
#pragma once

#include "whirler/files/schema.hpp"
#include "whirler/modbus/description.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace whirler::files {

/// What holds for every register that does not say otherwise: keys at the top of the file.
struct CellDefaults {
  modbus::Function read = modbus::Function::read_holding;
  modbus::Function write = modbus::Function::write_one;
  modbus::WordOrder order = modbus::WordOrder::high_first;
};

/// The defaults that a text states; what cannot be read is passed over here and reported where the
/// file is read.
[[nodiscard]] CellDefaults cell_defaults(std::string_view text);

/// `field`, with a note in the object that its key stands there, well read or not: so that a rule
/// about missing keys does not call a refused one missing.
template <class T, class Base>
Field<T> noted(Field<T> field, bool Base::*stands) {
  field.read = [read = std::move(field.read), stands](const Place& place, T& into) {
    into.*stands = true;
    return read(place, into);
  };
  return field;
}

enum class Use { read, write };

/// A word: a whole number from 0 to 65535, or "0x" and up to four hexadecimal digits.
[[nodiscard]] std::optional<std::uint16_t> read_word16(const Place& place);
inline constexpr const char* kWord16 = "a whole number from 0 to 65535, or such as \"0x006F\"";

template <class T, class Base>
Field<T> word16(std::string key, Need need, std::uint16_t Base::*member) {
  return custom<T>(std::move(key), need, kWord16, [member](const Place& place, T& into) {
    const auto value = read_word16(place);
    if (value)
      into.*member = *value;
    return value.has_value();
  });
}

/// The same where it may be left out.
template <class T>
Field<T> said_word(std::string key, std::optional<std::uint16_t> T::*member) {
  return custom<T>(std::move(key), optional, kWord16, [member](const Place& place, T& into) {
    into.*member = read_word16(place);
    return (into.*member).has_value();
  });
}

/// What a cell may be: a number in registers; a word in one; or that, or bits (coils, inputs).
enum class Holds { number, word, word_or_bits };

[[nodiscard]] bool read_function(const Place& place, Use use, Holds holds, modbus::Function& into);
[[nodiscard]] bool read_type(const Place& place, modbus::DataType& into);
[[nodiscard]] bool read_order(const Place& place, modbus::WordOrder& into);
/// A 32-bit value written by function 6, or a register past the last address.
[[nodiscard]] Conflicts cell_conflicts(const modbus::Cell& cell);

inline modbus::Function function_of(const CellDefaults& defaults, Use use,
                                    const modbus::Cell& cell) {
  if (use == Use::read)
    return defaults.read;
  return cell.words() == 1 ? defaults.write : modbus::Function::write_many;
}

/// Adds "address" and "function" of the Cell that `member` of a T is, and the rule about them; for
/// a number "type" and "word_order" too. "address" sets the defaults, so it is read first.
template <class T, class Base>
void add_cell(Schema<T>& schema, modbus::Cell Base::*member, Use use, const CellDefaults& defaults,
              Holds holds, Need need = required) {
  using modbus::Cell;
  auto& fields = schema.fields;
  fields.push_back(custom<T>("address", need, kWord16, [=](const Place& place, T& into) {
    const auto address = read_word16(place);
    Cell& cell = into.*member;
    cell.address = address.value_or(0);
    cell.function = function_of(defaults, use, cell);
    cell.order = defaults.order;
    return address.has_value();
  }));
  if (holds == Holds::number) {
    fields.push_back(custom<T>("type", optional, "", [=](const Place& place, T& into) {
      Cell& cell = into.*member;
      const bool good = read_type(place, cell.type);
      cell.function = function_of(defaults, use, cell);
      return good;
    }));
    fields.push_back(custom<T>("word_order", optional, "", [=](const Place& place, T& into) {
      return read_order(place, (into.*member).order);
    }));
  }
  fields.push_back(custom<T>("function", optional, "", [=](const Place& place, T& into) {
    return read_function(place, use, holds, (into.*member).function);
  }));
  schema.rules.push_back(
      {{"address"}, [member](const T& whole) { return cell_conflicts(whole.*member); }});
}

/// An array of 1 to 32 steps: {"write", "value"} or {"wait", "mask", "value", "within_ms"}.
[[nodiscard]] bool read_sequence(const Place& place, const CellDefaults& defaults,
                                 modbus::Sequence& into);
inline constexpr const char* kSteps = "an array of 1 to 32 steps";

template <class T, class Base>
Field<T> sequence(std::string key, modbus::Sequence Base::*member, const CellDefaults& defaults) {
  return custom<T>(std::move(key), optional, kSteps, [=](const Place& place, T& into) {
    return read_sequence(place, defaults, into.*member);
  });
}

/// The mask of a word, or of bits that are counted from the address on; where none is said, all of
/// the word, or the one bit. A cell of bits is read as far as the mask goes.
[[nodiscard]] std::uint16_t mask_of(std::optional<std::uint16_t> said, const modbus::Cell& cell);
[[nodiscard]] modbus::Cell masked(modbus::Cell cell, std::uint16_t mask);

/// No bits at all, or bits asked for outside the mask: then any word agrees, or none ever can.
[[nodiscard]] Conflicts mask_conflicts(std::uint16_t mask, std::uint16_t value);
/// What a coil cannot be told.
[[nodiscard]] Conflicts coil_conflicts(const modbus::Cell& cell, const std::string& key,
                                       std::optional<std::uint16_t> value);

} // namespace whirler::files
