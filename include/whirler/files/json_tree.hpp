// A JSON text as a tree whose values know where they stand. nlohmann's lexer does the reading; a
// counting iterator under it tells how far it has come at each of its calls, and from there the
// start of the token is found by looking back in the text (what ends a token is fixed by the JSON
// grammar, so that looking back is exact).
//
// TextLimits keep any input harmless: text 1 MiB unless said otherwise, depth 32, 100 000 values.
#pragma once

#include "whirler/files/fault_list.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::files {

struct Node;

/// A key of an object with the place of its opening quote [byte offset].
struct Key {
  std::string name;
  std::size_t at = 0;
};

struct Node {
  enum class Type { null, boolean, number, text, array, object };

  Type type = Type::null;
  std::size_t from = 0; ///< byte offset of its first character
  std::size_t to = 0;   ///< of the one after its last
  double number = 0.0;
  bool boolean = false;
  std::string text;
  std::vector<Node> items; ///< of an array, or the values of an object
  std::vector<Key> keys;   ///< of an object: one a value
};

/// What a text may cost, whatever is in it.
struct TextLimits {
  std::size_t bytes = std::size_t{1} << 20U;
  std::size_t values = 100'000;
};

/// The tree, or nothing and one fault: text that is not UTF-8, the first mistake of syntax, or a
/// limit passed.
[[nodiscard]] std::optional<Node> parse_json(std::string_view text, FaultList& faults,
                                             const TextLimits& limits = {});

/// The value under `key`, the first of that name; null where there is none.
[[nodiscard]] const Node* member(const Node& object, std::string_view key);

/// The value at a path of keys and indices such as "holes/2/at_mm"; null where there is none.
[[nodiscard]] const Node* descend(const Node& node, std::string_view path);

/// `token` as JSON Pointer writes it (RFC 6901): ~ and / escaped.
[[nodiscard]] std::string pointer_token(std::string_view token);

} // namespace whirler::files
