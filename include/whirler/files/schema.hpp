// What a file of a kind may say, as a table, and the one interpreter that reads by it.
//
//   const Schema<Mount> kMount{
//       {quantity("natural_hz", required, above(0, 1000, "Hz"), &Mount::natural, hertz), …},
//       {},                                             // keys of which exactly one must stand
//       {{{"natural_hz", "damping"}, [](const Mount& m) -> Conflicts {…}}}};
//
// The interpreter finds every mistake of an object before it leaves it: unknown and repeated keys,
// missing ones, wrong kinds, values out of range; then the rules that join several keys, each only
// where the keys that it names were read well, so that one slip gives one fault.
#pragma once

#include "whirler/files/fault_list.hpp"
#include "whirler/files/json_tree.hpp"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

namespace whirler::files {

/// A value in the tree, the pointer to it, and where its mistakes go.
struct Place {
  const Node& node;
  std::string pointer;
  FaultList& faults;

  [[nodiscard]] Place item(std::size_t index) const;
  [[nodiscard]] Place under(std::string_view key, const Node& value) const;
  /// Always false, so that a reader can end with it. `found` empty: the text of the value.
  bool refuse(std::string allowed, std::string next = "", std::string found = "") const;
};

/// The value in words: 3000, "cw", an array of 3, an object.
[[nodiscard]] std::string in_words(const Place& place);

enum Need : bool { optional = false, required = true };

template <class T>
struct Field {
  std::string key;
  Need need = required;
  std::string allowed;                        ///< what stands there, in words
  std::function<bool(const Place&, T&)> read; ///< false: refused, and said so
};

/// A contradiction between values that are each allowed.
struct Conflict {
  std::string path; ///< of the value that is blamed, from the object: "speed_min_rpm", "holes/2"
  std::string found;
  std::string allowed;
  std::string next;
};
using Conflicts = std::vector<Conflict>;

template <class T>
struct Rule {
  std::vector<std::string> keys; ///< asked where all of these stand and were read well
  std::function<Conflicts(const T&)> conflicts;
};

template <class T>
struct Schema {
  std::vector<Field<T>> fields;
  std::vector<std::vector<std::string>> one_of; ///< of each list exactly one key stands
  std::vector<Rule<T>> rules;
};

/// Keys and places of an object, checked against the keys that are known.
class ObjectKeys {
 public:
  struct Known {
    std::string_view key;
    bool required;
    std::string_view allowed;
  };
  /// Reports repeated, unknown and missing keys.
  ObjectKeys(const Place& object, const std::vector<Known>& known);
  /// The value of a key; none where it is missing.
  [[nodiscard]] std::optional<Place> find(std::string_view key) const;
  void refused(std::string_view key) { refused_.emplace_back(key); }
  /// True where all keys stand and none was refused.
  [[nodiscard]] bool good(const std::vector<std::string>& keys) const;
  void check_one_of(const std::vector<std::string>& keys);
  void report(const Conflict& conflict) const;

 private:
  void report_missing(const Known& known);
  void report_unknown(const Key& key) const;
  void report_repeated(const Key& key);

  Place object_;
  std::vector<std::string> names_;        ///< of all known keys
  std::vector<std::string_view> missing_; ///< those that do not stand here
  std::vector<std::string> refused_;
};

/// True where nothing was refused.
template <class T>
bool read_object(const Place& place, const Schema<T>& schema, T& into) {
  if (place.node.type != Node::Type::object)
    return place.refuse("an object {…}");
  const FaultList::Mark before = place.faults.mark();
  std::vector<ObjectKeys::Known> known;
  for (const Field<T>& field : schema.fields)
    known.push_back({field.key, field.need == required, field.allowed});
  ObjectKeys keys(place, known);
  for (const Field<T>& field : schema.fields)
    if (const auto value = keys.find(field.key); value && !field.read(*value, into))
      keys.refused(field.key);
  for (const auto& choice : schema.one_of)
    keys.check_one_of(choice);
  for (const Rule<T>& rule : schema.rules)
    if (keys.good(rule.keys))
      for (const Conflict& conflict : rule.conflicts(into))
        keys.report(conflict);
  return place.faults.mark() == before;
}

// ---- ranges and plain values

struct Range {
  double low = 0.0;
  double high = 0.0;
  bool low_open = false;
  std::string unit;

  [[nodiscard]] bool holds(double value) const {
    return value <= high && (low_open ? value > low : value >= low);
  }
  [[nodiscard]] std::string words() const;
};
[[nodiscard]] inline Range from_to(double low, double high, std::string unit = "") {
  return {low, high, false, std::move(unit)};
}
[[nodiscard]] inline Range above(double low, double high, std::string unit = "") {
  return {low, high, true, std::move(unit)};
}

[[nodiscard]] std::optional<double> read_number(const Place& place, const Range& range);
[[nodiscard]] std::optional<int> read_integer(const Place& place, int low, int high);
/// A name or path: `shortest` to 200 bytes without control characters.
[[nodiscard]] std::optional<std::string> read_text(const Place& place, std::size_t shortest = 1);
/// Exactly `count` numbers, each in the range; empty where refused.
[[nodiscard]] std::vector<double> read_numbers(const Place& place, std::size_t count,
                                               const Range& range);
[[nodiscard]] std::optional<std::size_t> read_word(const Place& place,
                                                   const std::vector<std::string>& words);

// ---- fields: each fills one member of the object being read. `T` is named where that object is
// derived from the member's owner.

template <class T, class Owner>
using Of = std::conditional_t<std::is_void_v<T>, Owner, T>;

template <class T = void, class Owner, class Member, class Q>
Field<Of<T, Owner>> quantity(std::string key, Need need, const Range& range, Member Owner::*member,
                             Q (*make)(double)) {
  return {std::move(key), need, range.words(), [=](const Place& place, Of<T, Owner>& into) {
            const auto value = read_number(place, range);
            if (value)
              into.*member = make(*value);
            return value.has_value();
          }};
}

template <class T = void, class Owner, class Member>
Field<Of<T, Owner>> number(std::string key, Need need, const Range& range, Member Owner::*member) {
  return {std::move(key), need, range.words(), [=](const Place& place, Of<T, Owner>& into) {
            const auto value = read_number(place, range);
            if (value)
              into.*member = *value;
            return value.has_value();
          }};
}

template <class T = void, class Owner>
Field<Of<T, Owner>> integer(std::string key, Need need, int low, int high, int Owner::*member) {
  std::string words = "a whole number from " + std::to_string(low) + " to " + std::to_string(high);
  return {std::move(key), need, std::move(words), [=](const Place& place, Of<T, Owner>& into) {
            const auto value = read_integer(place, low, high);
            if (value)
              into.*member = *value;
            return value.has_value();
          }};
}

template <class T = void, class Owner>
Field<Of<T, Owner>> text(std::string key, Need need, std::string Owner::*member,
                         std::size_t shortest = 1) {
  return {std::move(key), need, "a text", [=](const Place& place, Of<T, Owner>& into) {
            auto value = read_text(place, shortest);
            if (value)
              into.*member = std::move(*value);
            return value.has_value();
          }};
}

template <class T>
Field<T> flag(std::string key, Need need, bool T::*member) {
  return {std::move(key), need, "true or false", [=](const Place& place, T& into) {
            if (place.node.type != Node::Type::boolean)
              return place.refuse("true or false");
            into.*member = place.node.boolean;
            return true;
          }};
}

[[nodiscard]] std::string word_list(const std::vector<std::string>& words);

template <class T, class Enum>
Field<T> word(std::string key, Need need, std::vector<std::pair<std::string, Enum>> words,
              Enum T::*member) {
  std::vector<std::string> names;
  for (const auto& [name, value] : words)
    names.push_back(name);
  std::string allowed = word_list(names);
  return {
      std::move(key), need, std::move(allowed),
      [names = std::move(names), words = std::move(words), member](const Place& place, T& into) {
        const auto chosen = read_word(place, names);
        if (chosen)
          into.*member = words[*chosen].second;
        return chosen.has_value();
      }};
}

/// An object within the object. `Member` is Part or std::optional<Part>.
template <class T = void, class Owner, class Part, class Member>
Field<Of<T, Owner>> part(std::string key, Need need, Schema<Part> schema, Member Owner::*member) {
  return {std::move(key), need, "an object {…}",
          [schema = std::move(schema), member](const Place& place, Of<T, Owner>& into) {
            Part read;
            const bool good = read_object(place, schema, read);
            if (good)
              into.*member = std::move(read);
            return good;
          }};
}

/// An array of `least` to `most` objects.
template <class T = void, class Owner, class Item>
Field<Of<T, Owner>> list(std::string key, Need need, std::size_t least, std::size_t most,
                         Schema<Item> schema, std::vector<Item> Owner::*member) {
  std::string words = "an array of " + std::to_string(least) + " to " + std::to_string(most);
  return {std::move(key), need, words,
          [schema = std::move(schema), member, least, most, words](const Place& place,
                                                                   Of<T, Owner>& into) {
            if (place.node.type != Node::Type::array || place.node.items.size() < least ||
                place.node.items.size() > most)
              return place.refuse(words);
            bool good = true;
            for (std::size_t i = 0; i < place.node.items.size(); ++i)
              good = read_object(place.item(i), schema, (into.*member).emplace_back()) && good;
            return good;
          }};
}

/// A value with a reader of its own.
template <class T>
Field<T> custom(std::string key, Need need, std::string allowed,
                std::function<bool(const Place&, T&)> read) {
  return {std::move(key), need, std::move(allowed), std::move(read)};
}

// ---- whole files

/// The word under "kind", which must stand first.
[[nodiscard]] std::optional<std::string> read_kind(const Place& root);

/// True where the rest of the file can be read as `kind` in format 1. Faults unless "kind" stands
/// first and "format" second.
[[nodiscard]] bool check_head(const Place& root, std::string_view kind);

/// A file of `kind` by its schema; the schema does not list "kind" and "format".
template <class T>
Read<T> read_file(std::string_view text, const std::string& file, std::string_view kind,
                  Schema<T> schema, const TextLimits& limits = {}) {
  FaultList faults(text, file);
  const auto tree = parse_json(text, faults, limits);
  T value;
  if (tree) {
    const Place root{*tree, "", faults};
    const auto accept = [](const Place&, T&) { return true; };
    schema.fields.push_back(custom<T>("kind", optional, "", accept));
    schema.fields.push_back(custom<T>("format", optional, "", accept));
    if (check_head(root, kind))
      read_object(root, schema, value);
  }
  if (!faults.empty())
    return std::move(faults).take();
  return value;
}

} // namespace whirler::files
