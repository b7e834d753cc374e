#include "whirler/files/json_tree.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <charconv>
#include <cstdint>
#include <iterator>

namespace whirler::files {
namespace {

constexpr std::size_t kDeepest = 32;

/// Walks the text and leaves in `*read` how many bytes have been taken.
class CountingIterator {
 public:
  using iterator_category = std::input_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  CountingIterator(std::string_view text, std::size_t place, std::size_t* read)
      : text_(text), place_(place), read_(read) {}
  const char& operator*() const { return text_[place_]; }
  CountingIterator& operator++() {
    *read_ = ++place_;
    return *this;
  }
  CountingIterator operator++(int) {
    CountingIterator before = *this;
    ++*this;
    return before;
  }
  friend bool operator==(const CountingIterator& a, const CountingIterator& b) {
    return a.place_ == b.place_;
  }
  friend bool operator!=(const CountingIterator& a, const CountingIterator& b) { return !(a == b); }

 private:
  std::string_view text_;
  std::size_t place_;
  std::size_t* read_;
};

bool is_number_character(char c) {
  return (c >= '0' && c <= '9') || c == '-' || c == '+' || c == '.' || c == 'e' || c == 'E';
}

/// A string that is well formed starts at the last quote without a backslash before it.
std::size_t string_start(std::string_view text, std::size_t end) {
  std::size_t start = end - 1; // the closing quote
  do
    --start;
  while (start > 0 && (text[start] != '"' || text[start - 1] == '\\'));
  return start;
}

struct Span {
  std::size_t from;
  std::size_t to;
};

/// The lexer reads one character past a number, except at the end of the text.
Span number_span(std::string_view text, std::size_t read) {
  std::size_t to = read;
  if (to > 0 && !is_number_character(text[to - 1]))
    --to;
  std::size_t from = to;
  while (from > 0 && is_number_character(text[from - 1]))
    --from;
  return {from, to};
}

/// A mistake of syntax in words for a person, from the parser's words for it.
struct Complaint {
  std::string found; ///< "end of input", a kind of token, or what is wrong with a broken token
  std::string expected;
  bool broken = false; ///< a broken token: the place is the last character read
};

std::string after(const std::string& text, std::string_view mark) {
  const auto at = text.find(mark);
  return at == std::string::npos ? "" : text.substr(at + mark.size());
}

std::string plain_expected(const std::string& expected) {
  if (expected == "'}'" || expected == "']'")
    return "',' or " + expected;
  if (expected == "string literal")
    return "a key in double quotes";
  return expected.empty() || expected.starts_with("'['") ? "a value" : expected;
}

/// What the parser expected: one of its own names, at the end. Anything else after the mark was
/// quoted from the text, where a writer may have put these words too.
std::string named_expected(const std::string& reason) {
  constexpr std::array<std::string_view, 8> kNames = {
      "end of input", "string literal",        "number literal", "':'", "','", "'}'",
      "']'",          "'[', '{', or a literal"};
  const auto at = reason.rfind("; expected ");
  const std::string name = at == std::string::npos ? "" : after(reason.substr(at), "; expected ");
  return std::find(kNames.begin(), kNames.end(), name) == kNames.end() ? "" : name;
}

Complaint complaint(const std::string& words) {
  const std::string reason = after(words, " - ");
  Complaint made;
  made.expected = plain_expected(named_expected(reason));
  std::string found = reason;
  if (const auto last = found.find("; last read"); last != std::string::npos) {
    found.erase(last); // the text itself is quoted from here on
    made.broken = true;
  } else {
    found.erase(std::min(found.find("; expected "), found.size()));
  }
  const std::string_view unexpected = "unexpected ";
  made.found = found.starts_with(unexpected) ? found.substr(unexpected.size()) : found;
  return made;
}

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// The word around a place: what the writer meant by a literal that JSON does not have.
Span word_span(std::string_view text, std::size_t at) {
  Span word{at, at};
  while (word.from > 0 && is_letter(text[word.from - 1]))
    --word.from;
  while (word.to < text.size() && is_letter(text[word.to]))
    ++word.to;
  return word.from == word.to ? Span{at, std::min(at + 1, text.size())} : word;
}

/// Builds the tree from the parser's calls. Ancestors of the open value do not grow while it is
/// open, so that pointers to them stay good.
class TreeBuilder {
 public:
  TreeBuilder(std::string_view text, const std::size_t& read, FaultList& faults,
              std::size_t most_values)
      : text_(text), read_(read), faults_(faults), most_values_(most_values) {}

  bool null() { return add(scalar(Node::Type::null, {read_ - 4, read_})); }
  bool boolean(bool value) {
    Node node = scalar(Node::Type::boolean, {read_ - (value ? 4U : 5U), read_});
    node.boolean = value;
    return add(std::move(node));
  }
  bool number_integer(std::int64_t value) { return number(static_cast<double>(value)); }
  bool number_unsigned(std::uint64_t value) { return number(static_cast<double>(value)); }
  bool number_float(double value, const std::string& /*text*/) { return number(value); }
  bool string(std::string& value) {
    Node node = scalar(Node::Type::text, {string_start(text_, read_), read_});
    node.text = std::move(value);
    return add(std::move(node));
  }
  bool binary(std::vector<std::uint8_t>& /*value*/) { return false; } // JSON text has none
  bool start_object(std::size_t /*size*/) { return open(Node::Type::object); }
  bool start_array(std::size_t /*size*/) { return open(Node::Type::array); }
  bool key(std::string& name) {
    open_.back()->keys.push_back({std::move(name), string_start(text_, read_)});
    return true;
  }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool parse_error(std::size_t place, const std::string& token, const std::exception& error);

  [[nodiscard]] Node take() && { return std::move(root_); }

 private:
  static Node scalar(Node::Type type, Span span) {
    Node node;
    node.type = type;
    node.from = span.from;
    node.to = span.to;
    return node;
  }
  bool number(double value) {
    Node node = scalar(Node::Type::number, number_span(text_, read_));
    node.number = value;
    return add(std::move(node));
  }
  bool add(Node node) {
    if (++values_ > most_values_)
      return refuse(node.from, "too many values",
                    "at most " + std::to_string(most_values_) + " values");
    (open_.empty() ? root_ : open_.back()->items.emplace_back()) = std::move(node);
    return true;
  }
  bool open(Node::Type type) {
    if (open_.size() == kDeepest)
      return refuse(read_ - 1, "values nested deeper than 32 levels", "at most 32 levels");
    Node* const parent = open_.empty() ? nullptr : open_.back();
    if (!add(scalar(type, {read_ - 1, read_})))
      return false;
    open_.push_back(parent == nullptr ? &root_ : &parent->items.back());
    return true;
  }
  bool close() {
    open_.back()->to = read_;
    open_.pop_back();
    return true;
  }
  [[nodiscard]] std::string pointer() const {
    std::string path;
    for (const Node* node : open_)
      if (node->type == Node::Type::array)
        path += "/" +
                std::to_string(node == open_.back() ? node->items.size() : node->items.size() - 1);
      else if (!node->keys.empty())
        path += "/" + pointer_token(node->keys.back().name);
    return path;
  }
  bool refuse(std::size_t at, std::string found, std::string allowed, std::string next = "") {
    faults_.add(at, {.pointer = pointer(),
                     .found = std::move(found),
                     .allowed = std::move(allowed),
                     .next = std::move(next)});
    return false;
  }
  [[nodiscard]] Span blamed(const Complaint& made) const;
  [[nodiscard]] std::string hint(const Complaint& made, Span span) const;

  std::string_view text_;
  const std::size_t& read_;
  FaultList& faults_;
  Node root_;
  std::vector<Node*> open_;
  std::size_t values_ = 0;
  std::size_t most_values_;
};

/// Where the mistake stands: the unexpected token, or the broken piece of one.
Span TreeBuilder::blamed(const Complaint& made) const {
  const std::size_t last = read_ == 0 ? 0 : read_ - 1;
  if (made.found == "end of input")
    return {text_.size(), text_.size()};
  if (made.found == "invalid literal")
    return word_span(text_, last);
  if (made.broken)
    return {last, read_};
  if (made.found == "string literal")
    return {string_start(text_, read_), read_};
  if (made.found == "number literal")
    return number_span(text_, read_);
  const bool word = made.found.ends_with(" literal"); // true, false or null
  return word ? word_span(text_, last) : Span{last, read_};
}

std::string TreeBuilder::hint(const Complaint& made, Span span) const {
  if (span.from >= text_.size())
    return "the end of the file is missing, or a bracket is never closed";
  const std::size_t last = text_.substr(0, span.from).find_last_not_of(" \t\r\n");
  const bool after_comma = span.from > 0 && last != std::string_view::npos && text_[last] == ',';
  const char here = text_[span.from];
  if (after_comma && (here == '}' || here == ']'))
    return "take out the comma before it";
  if (here == '\'')
    return "write texts in double quotes";
  if (made.expected.starts_with("',' or"))
    return "look for a comma or a bracket that is missing before it";
  return "correct it: nothing after it was read";
}

bool TreeBuilder::parse_error(std::size_t /*place*/, const std::string& /*token*/,
                              const std::exception& error) {
  if (dynamic_cast<const nlohmann::json::out_of_range*>(&error) != nullptr) {
    const Span span = number_span(text_, read_);
    return refuse(span.from, shown(text_.substr(span.from, span.to - span.from)),
                  "a number that fits 64-bit floating point");
  }
  const Complaint made = complaint(error.what());
  const Span span = blamed(made);
  const std::string piece = shown(text_.substr(span.from, span.to - span.from));
  const bool says_more = made.broken && made.found != "invalid literal";
  const bool at_end = span.from >= text_.size();
  return refuse(span.from,
                at_end      ? "the end of the text"
                : says_more ? made.found
                            : piece,
                made.expected, hint(made, span));
}

/// What the lexer would take as the end of the text, would not look at in comments, or is too much.
bool text_is_readable(std::string_view text, FaultList& faults, std::size_t largest) {
  if (text.size() > largest) {
    faults.add(0, {.found = std::to_string(text.size()) + " bytes",
                   .allowed = "at most " + std::to_string(largest) + " bytes",
                   .next = "check that it is the right file"});
    return false;
  }
  const std::size_t bad = std::min(first_not_utf8(text), text.find('\0'));
  if (bad >= text.size())
    return true;
  faults.add(bad, {.found = text[bad] == '\0' ? "a zero byte" : shown(text.substr(bad, 1)),
                   .allowed = "UTF-8 text",
                   .next = "save the file as UTF-8"});
  return false;
}

} // namespace

std::optional<Node> parse_json(std::string_view text, FaultList& faults, const TextLimits& limits) {
  if (!text_is_readable(text, faults, limits.bytes))
    return std::nullopt;
  std::size_t read = 0;
  TreeBuilder builder(text, read, faults, limits.values);
  const bool whole = nlohmann::json::sax_parse(CountingIterator(text, 0, &read),
                                               CountingIterator(text, text.size(), &read), &builder,
                                               nlohmann::json::input_format_t::json, true, true);
  if (!whole || !faults.empty())
    return std::nullopt;
  return std::move(builder).take();
}

const Node* member(const Node& object, std::string_view key) {
  for (std::size_t i = 0; i < object.keys.size(); ++i)
    if (object.keys[i].name == key)
      return &object.items[i];
  return nullptr;
}

const Node* descend(const Node& node, std::string_view path) {
  const Node* at = &node;
  while (!path.empty() && at != nullptr) {
    const std::string_view token = path.substr(0, path.find('/'));
    path.remove_prefix(std::min(path.size(), token.size() + 1));
    std::size_t index = 0;
    if (at->type == Node::Type::object)
      at = member(*at, token);
    else if (std::from_chars(token.data(), token.data() + token.size(), index).ec == std::errc{} &&
             index < at->items.size())
      at = &at->items[index];
    else
      at = nullptr;
  }
  return at;
}

std::string pointer_token(std::string_view token) {
  std::string text;
  for (const char c : token)
    text += c == '~' ? "~0" : c == '/' ? "~1" : std::string(1, c);
  return text;
}

} // namespace whirler::files
