#include "whirler/files/schema.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace whirler::files {
namespace {

/// Edits (insert, remove, replace, swap of neighbours) between two short words.
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before_last;
  std::vector<std::size_t> last(b.size() + 1);
  std::iota(last.begin(), last.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::vector<std::size_t> row(b.size() + 1, i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, replaced});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
    before_last = std::exchange(last, std::move(row));
  }
  return last.back();
}

/// The known word that `word` was probably meant to be; empty where none is near.
template <class Words>
std::string nearest(std::string_view word, const Words& words) {
  constexpr std::size_t kLongest = 64; // keeps the work small whatever the file says
  std::string best;
  std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
  if (word.size() > kLongest)
    return best;
  if (word.size() <= 3) // "dc" is no slip of "ac"
    least = word.size() - std::min<std::size_t>(word.size(), 1);
  for (const auto& candidate : words)
    if (const std::size_t distance = edit_distance(word, candidate); distance < least) {
      least = distance;
      best = std::string(candidate);
    }
  return best;
}

std::string quoted(std::string_view text) { return '"' + shown(text) + '"'; }

std::string did_you_mean(std::string_view word, const std::vector<std::string_view>& words) {
  const std::string near = nearest(word, words);
  return near.empty() ? "" : "did you mean " + quoted(near) + "?";
}

std::string joined(const std::vector<std::string>& words, std::string_view between) {
  std::string text;
  for (const std::string& word : words)
    text += (text.empty() ? "" : std::string(between)) + quoted(word);
  return text;
}

} // namespace

Place Place::item(std::size_t index) const {
  return {node.items[index], pointer + "/" + std::to_string(index), faults};
}

Place Place::under(std::string_view key, const Node& value) const {
  return {value, pointer + "/" + pointer_token(key), faults};
}

bool Place::refuse(std::string allowed, std::string next, std::string found) const {
  faults.add(node.from, {.pointer = pointer,
                         .found = found.empty() ? in_words(*this) : std::move(found),
                         .allowed = std::move(allowed),
                         .next = std::move(next)});
  return false;
}

std::string in_words(const Place& place) {
  if (place.node.type == Node::Type::object)
    return "an object";
  if (place.node.type == Node::Type::array)
    return "an array of " + std::to_string(place.node.items.size());
  return shown(place.faults.text().substr(place.node.from, place.node.to - place.node.from));
}

ObjectKeys::ObjectKeys(const Place& object, const std::vector<Known>& known) : object_(object) {
  for (const Known& one : known) {
    names_.emplace_back(one.key);
    if (member(object.node, one.key) == nullptr)
      missing_.push_back(one.key);
  }
  std::vector<std::string_view> seen;
  for (const Key& key : object.node.keys) {
    if (object.faults.full())
      break; // keeps the work small however many keys there are
    if (std::find(names_.begin(), names_.end(), key.name) == names_.end())
      report_unknown(key);
    else if (std::find(seen.begin(), seen.end(), key.name) != seen.end())
      report_repeated(key);
    else
      seen.push_back(key.name);
  }
  for (const Known& one : known)
    if (one.required && member(object.node, one.key) == nullptr)
      report_missing(one);
}

void ObjectKeys::report_unknown(const Key& key) const {
  object_.faults.add(key.at, {.pointer = object_.pointer + "/" + pointer_token(key.name),
                              .found = "unknown key " + quoted(key.name),
                              .allowed = joined(names_, ", "),
                              .next = did_you_mean(key.name, missing_)});
}

void ObjectKeys::report_repeated(const Key& key) {
  object_.faults.add(key.at, {.pointer = object_.pointer + "/" + pointer_token(key.name),
                              .found = quoted(key.name) + " a second time",
                              .allowed = "each key once",
                              .next = "take one of them out"});
  refused(key.name);
}

void ObjectKeys::report_missing(const Known& known) {
  object_.faults.add(object_.node.from,
                     {.pointer = object_.pointer + "/" + pointer_token(known.key),
                      .found = "nothing: the key " + quoted(known.key) + " is missing",
                      .allowed = std::string(known.allowed),
                      .next = "add it"});
}

std::optional<Place> ObjectKeys::find(std::string_view key) const {
  const Node* value = member(object_.node, key);
  if (value == nullptr)
    return std::nullopt;
  return object_.under(key, *value);
}

bool ObjectKeys::good(const std::vector<std::string>& keys) const {
  return std::all_of(keys.begin(), keys.end(), [&](const std::string& key) {
    return member(object_.node, key) != nullptr &&
           std::find(refused_.begin(), refused_.end(), key) == refused_.end();
  });
}

void ObjectKeys::check_one_of(const std::vector<std::string>& keys) {
  std::vector<std::string> standing;
  for (const std::string& key : keys)
    if (member(object_.node, key) != nullptr)
      standing.push_back(key);
  if (standing.size() == 1)
    return;
  const std::string allowed = "exactly one of " + joined(keys, " and ");
  if (standing.empty())
    object_.faults.add(object_.node.from, {.pointer = object_.pointer,
                                           .found = "neither " + joined(keys, " nor "),
                                           .allowed = allowed,
                                           .next = "add one"});
  else
    find(standing[1])->refuse(allowed, "take one of them out", joined(standing, " and "));
  for (const std::string& key : keys)
    refused(key);
}

void ObjectKeys::report(const Conflict& conflict) const {
  const Node* blamed = descend(object_.node, conflict.path);
  const std::size_t at = blamed == nullptr ? object_.node.from : blamed->from;
  const std::string slash = conflict.path.empty() ? "" : "/";
  object_.faults.add(at, {.pointer = object_.pointer + slash + conflict.path,
                          .found = conflict.found,
                          .allowed = conflict.allowed,
                          .next = conflict.next});
}

std::string Range::words() const {
  std::string text = low_open ? "a number above " : "a number from ";
  text += number_text(low, 6) + (low_open ? " up to " : " to ") + number_text(high, 6);
  return unit.empty() ? text : text + " " + unit;
}

std::optional<double> read_number(const Place& place, const Range& range) {
  const bool is_number = place.node.type == Node::Type::number;
  if (is_number && std::isfinite(place.node.number) && range.holds(place.node.number))
    return place.node.number;
  const bool text = place.node.type == Node::Type::text;
  place.refuse(range.words(), text ? "write the number without quotes" : "");
  return std::nullopt;
}

std::optional<int> read_integer(const Place& place, int low, int high) {
  const double value = place.node.number;
  if (place.node.type == Node::Type::number && value >= low && value <= high &&
      value == std::floor(value))
    return static_cast<int>(value);
  place.refuse("a whole number from " + std::to_string(low) + " to " + std::to_string(high));
  return std::nullopt;
}

std::optional<std::string> read_text(const Place& place, std::size_t shortest) {
  constexpr std::size_t kLongest = 200;
  const std::string& text = place.node.text;
  const bool control = std::any_of(text.begin(), text.end(), [](char c) {
    return static_cast<unsigned char>(c) < 0x20U || c == 0x7F;
  });
  if (place.node.type == Node::Type::text && text.size() >= shortest && text.size() <= kLongest &&
      !control)
    return text;
  place.refuse("a text of " + std::to_string(shortest) +
               " to 200 bytes without control characters");
  return std::nullopt;
}

std::vector<double> read_numbers(const Place& place, std::size_t count, const Range& range) {
  if (place.node.type != Node::Type::array || place.node.items.size() != count) {
    place.refuse("an array of " + std::to_string(count) + " numbers");
    return {};
  }
  std::vector<double> values;
  for (std::size_t i = 0; i < count; ++i)
    if (const auto value = read_number(place.item(i), range))
      values.push_back(*value);
  return values.size() == count ? values : std::vector<double>{};
}

std::string word_list(const std::vector<std::string>& words) { return joined(words, " or "); }

std::optional<std::size_t> read_word(const Place& place, const std::vector<std::string>& words) {
  if (place.node.type == Node::Type::text)
    for (std::size_t i = 0; i < words.size(); ++i)
      if (place.node.text == words[i])
        return i;
  place.refuse(word_list(words), did_you_mean(place.node.text, {words.begin(), words.end()}));
  return std::nullopt;
}

namespace {

/// The value of `key`, none where there is none; a fault unless it stands at `index`.
std::optional<Place> head_key(const Place& root, std::size_t index, std::string_view key,
                              const std::string& allowed) {
  const auto& keys = root.node.keys;
  const Node* value = member(root.node, key);
  if (index >= keys.size() || keys[index].name != key)
    root.faults.add(
        index < keys.size() ? keys[index].at : root.node.from,
        {.pointer = "/" + std::string(key),
         .found = index < keys.size() ? "key " + quoted(keys[index].name) : "nothing",
         .allowed = allowed,
         .next = value != nullptr ? "move " + quoted(key) + " to the front" : "add it"});
  if (value == nullptr)
    return std::nullopt;
  return root.under(key, *value);
}

} // namespace

std::optional<std::string> read_kind(const Place& root) {
  if (root.node.type != Node::Type::object) {
    root.refuse("an object {…} that starts with \"kind\"");
    return std::nullopt;
  }
  const auto kind = head_key(root, 0, "kind", "\"kind\" as the first key");
  return kind ? read_text(*kind) : std::nullopt;
}

bool check_head(const Place& root, std::string_view kind) {
  const auto found = read_kind(root);
  if (!found)
    return false;
  if (*found != kind)
    return root.under("kind", *member(root.node, "kind"))
        .refuse(quoted(kind), "give a file of kind " + quoted(kind) + " here");
  const auto format = head_key(root, 1, "format", "\"format\": 1 as the second key");
  if (!format || (format->node.type == Node::Type::number && format->node.number == 1.0))
    return true; // where it is missing, the rest can still be read as the only format there is
  return format->refuse("1", "a newer version of the program may know it");
}

} // namespace whirler::files
