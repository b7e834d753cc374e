#include "drive_cells.hpp"

#include <bit>
#include <charconv>
#include <tuple>
#include <vector>

namespace whirler::files {
namespace {

using namespace modbus;

constexpr std::size_t kStepsMost = 32;
constexpr Duration kWaitUnlessSaid = seconds(1);

struct StepDraft {
  std::optional<std::uint16_t> write;
  std::optional<std::uint16_t> wait;
  std::optional<Function> function;
  std::optional<std::uint16_t> value, cw, ccw, mask;
  std::optional<Duration> within;
};

bool read_step_function(const Place& place, StepDraft& into) {
  Function function{};
  const Use use = into.write ? Use::write : Use::read;
  const bool good = read_function(place, use, Holds::word_or_bits, function);
  into.function = function;
  return good;
}

Conflicts stray_words(const StepDraft& step) {
  Conflicts found;
  for (const auto& [key, stands, writes] : {std::tuple{"mask", step.mask.has_value(), true},
                                            {"within_ms", step.within.has_value(), true},
                                            {"cw", step.cw.has_value(), false},
                                            {"ccw", step.ccw.has_value(), false}})
    if (stands && writes == step.write.has_value())
      found.push_back(
          {key, std::string("\"") + key + "\" in a step that " + (writes ? "writes" : "waits"),
           writes ? "beside \"write\" only \"function\" and \"value\", or \"cw\" and \"ccw\""
                  : "beside \"wait\" only \"mask\", \"value\", \"within_ms\" and \"function\"",
           "take it out"});
  return found;
}

Conflicts other_direction_missing(const StepDraft& step) {
  if (step.cw.has_value() == step.ccw.has_value())
    return {};
  return {{"", std::string("no \"") + (step.cw ? "ccw" : "cw") + "\"",
           "what to write for each direction: \"cw\" and \"ccw\"", "add it"}};
}

/// Of a coil.
Conflicts not_on_or_off(const StepDraft& step) {
  const Cell cell{0, DataType::u16, WordOrder::high_first, *step.function};
  Conflicts found;
  for (const auto& [key, value] :
       {std::pair{"value", step.value}, {"cw", step.cw}, {"ccw", step.ccw}})
    for (auto& conflict : coil_conflicts(cell, key, step.write ? value : std::nullopt))
      found.push_back(std::move(conflict));
  return found;
}

std::uint16_t mask_of_step(const StepDraft& step) {
  Cell cell;
  cell.function = step.function.value_or(Function::read_holding);
  return mask_of(step.mask, cell);
}

Schema<StepDraft> step_schema() {
  const auto agrees = [](const StepDraft& step) {
    return step.wait && step.value ? mask_conflicts(mask_of_step(step), *step.value) : Conflicts{};
  };
  return {{said_word("write", &StepDraft::write), said_word("wait", &StepDraft::wait),
           said_word("value", &StepDraft::value), said_word("cw", &StepDraft::cw),
           said_word("ccw", &StepDraft::ccw), said_word("mask", &StepDraft::mask),
           quantity("within_ms", optional, above(0, 10'000, "ms"), &StepDraft::within,
                    whirler::milliseconds),
           custom<StepDraft>("function", optional, "", read_step_function)},
          {{"write", "wait"}, {"value", "cw"}},
          {{{"write"}, stray_words},
           {{"wait"}, stray_words},
           {{"write"}, other_direction_missing},
           {{"function"}, not_on_or_off},
           {{"wait", "value"}, agrees}}};
}

Step step_from(const StepDraft& draft, const CellDefaults& defaults) {
  Cell cell;
  const std::uint16_t value = draft.value.value_or(draft.cw.value_or(0));
  if (draft.write) {
    cell.address = *draft.write;
    cell.function = draft.function.value_or(defaults.write);
    return WriteStep{cell, value, draft.ccw};
  }
  cell.address = draft.wait.value_or(0);
  cell.function = draft.function.value_or(defaults.read);
  const std::uint16_t mask = mask_of(draft.mask, cell);
  return WaitStep{masked(cell, mask), mask, value, draft.within.value_or(kWaitUnlessSaid)};
}

} // namespace

std::optional<std::uint16_t> read_word16(const Place& place) {
  const auto& node = place.node;
  if (node.type == Node::Type::number && node.number >= 0.0 && node.number <= 65535.0 &&
      node.number == static_cast<double>(static_cast<std::uint16_t>(node.number)))
    return static_cast<std::uint16_t>(node.number);
  if (node.type == Node::Type::text && node.text.starts_with("0x") && node.text.size() <= 6) {
    std::uint16_t value = 0;
    const char* end = node.text.data() + node.text.size();
    const auto read = std::from_chars(node.text.data() + 2, end, value, 16);
    if (read.ec == std::errc{} && read.ptr == end)
      return value;
  }
  place.refuse(kWord16);
  return std::nullopt;
}

bool read_function(const Place& place, Use use, Holds holds, Function& into) {
  std::vector<int> allowed = use == Use::read ? std::vector{3, 4} : std::vector{6, 16};
  if (holds == Holds::word_or_bits)
    allowed = use == Use::read ? std::vector{1, 2, 3, 4} : std::vector{5, 6, 16};
  const double value = place.node.type == Node::Type::number ? place.node.number : 0.0;
  std::string words;
  for (const int one : allowed) {
    if (value == one) {
      into = static_cast<Function>(one);
      return true;
    }
    words += (words.empty() ? "" : one == allowed.back() ? " or " : ", ") + std::to_string(one);
  }
  return place.refuse(words);
}

bool read_type(const Place& place, DataType& into) {
  const auto chosen = read_word(place, {"u16", "s16", "u32", "s32", "f32"});
  if (chosen)
    into = static_cast<DataType>(*chosen);
  return chosen.has_value();
}

bool read_order(const Place& place, WordOrder& into) {
  const auto chosen = read_word(place, {"high_first", "low_first"});
  if (chosen)
    into = static_cast<WordOrder>(*chosen);
  return chosen.has_value();
}

Conflicts cell_conflicts(const Cell& cell) {
  if (cell.words() == 2 && cell.function == Function::write_one)
    return {{"function", "6", "16 for a value of 32 bits: 6 writes one register",
             "leave \"function\" out, or write 16"}};
  if (cell.address + cell.words() > 0x10000)
    return {{"address", word_text(cell.address), "at most 0xFFFE for a value of 32 bits",
             "correct \"address\" or \"type\""}};
  return {};
}

std::uint16_t mask_of(std::optional<std::uint16_t> said, const Cell& cell) {
  return said.value_or(is_of_bits(cell.function) ? 1 : 0xFFFF);
}

Cell masked(Cell cell, std::uint16_t mask) {
  if (is_of_bits(cell.function))
    cell.bits = static_cast<std::uint16_t>(std::bit_width(mask));
  return cell;
}

Conflicts mask_conflicts(std::uint16_t mask, std::uint16_t value) {
  if (mask == 0)
    return {{"mask", "0x0000", "at least one bit: under no bits every word agrees",
             "name the bits that tell, or leave \"mask\" out for all of them"}};
  if ((value & ~mask) == 0)
    return {};
  return {{"value", word_text(value), "only bits of the mask, which is " + word_text(mask),
           "correct one of the two: as it stands no word can agree"}};
}

Conflicts coil_conflicts(const Cell& cell, const std::string& key,
                         std::optional<std::uint16_t> value) {
  if (cell.function != Function::write_coil || value.value_or(0) <= 1)
    return {};
  return {{key, word_text(*value), "0 or 1: function 5 switches one coil off or on",
           "write 1 for on, or \"function\": 6 if it is a register"}};
}

CellDefaults cell_defaults(std::string_view text) {
  const std::string file;
  FaultList unheard(text, file);
  CellDefaults defaults;
  const auto tree = parse_json(text, unheard);
  if (!tree || tree->type != Node::Type::object)
    return defaults;
  const auto look = [&](std::string_view key, auto&& read) {
    if (const Node* value = member(*tree, key))
      (void)read(Place{*value, "", unheard});
  };
  look("read_function",
       [&](const Place& p) { return read_function(p, Use::read, Holds::word, defaults.read); });
  look("write_function",
       [&](const Place& p) { return read_function(p, Use::write, Holds::word, defaults.write); });
  look("word_order", [&](const Place& p) { return read_order(p, defaults.order); });
  return defaults;
}

bool read_sequence(const Place& place, const CellDefaults& defaults, Sequence& into) {
  if (place.node.type != Node::Type::array || place.node.items.empty() ||
      place.node.items.size() > kStepsMost)
    return place.refuse(kSteps);
  bool good = true;
  const auto schema = step_schema();
  for (std::size_t i = 0; i < place.node.items.size(); ++i) {
    StepDraft draft;
    good = read_object(place.item(i), schema, draft) && good;
    into.push_back(step_from(draft, defaults));
  }
  return good;
}

} // namespace whirler::files
