#include "drive_cells.hpp"

#include <charconv>

namespace whirler::files {
namespace {

using namespace modbus;

constexpr std::size_t kStepsMost = 32;
constexpr Duration kWaitUnlessSaid = seconds(1);

struct StepDraft {
  std::optional<std::uint16_t> write;
  std::optional<std::uint16_t> wait;
  std::optional<Function> function;
  std::uint16_t value = 0;
  std::optional<std::uint16_t> mask;
  std::optional<Duration> within;
};

Field<StepDraft> address_of_step(std::string key, std::optional<std::uint16_t> StepDraft::*member) {
  return custom<StepDraft>(std::move(key), optional, kWord16,
                           [member](const Place& place, StepDraft& into) {
                             into.*member = read_word16(place);
                             return (into.*member).has_value();
                           });
}

bool read_step_function(const Place& place, StepDraft& into) {
  Function function{};
  const bool good = read_function(place, into.write ? Use::write : Use::read, function);
  into.function = function;
  return good;
}

Conflicts waiting_words_with_write(const StepDraft& step) {
  Conflicts found;
  for (const auto& [key, stands] :
       {std::pair{"mask", step.mask.has_value()}, {"within_ms", step.within.has_value()}})
    if (stands)
      found.push_back({key, std::string("\"") + key + "\" in a step that writes",
                       "only \"value\" and \"function\" beside \"write\"", "take it out"});
  return found;
}

Schema<StepDraft> step_schema() {
  return {{address_of_step("write", &StepDraft::write), address_of_step("wait", &StepDraft::wait),
           word16<StepDraft>("value", required, &StepDraft::value),
           custom<StepDraft>("mask", optional, kWord16,
                             [](const Place& place, StepDraft& into) {
                               into.mask = read_word16(place);
                               return into.mask.has_value();
                             }),
           quantity("within_ms", optional, above(0, 10'000, "ms"), &StepDraft::within,
                    whirler::milliseconds),
           custom<StepDraft>("function", optional, "", read_step_function)},
          {{"write", "wait"}},
          {{{"write"}, waiting_words_with_write},
           {{"wait", "mask", "value"},
            [](const StepDraft& step) { return value_outside_mask(*step.mask, step.value); }}}};
}

Step step_from(const StepDraft& draft, const CellDefaults& defaults) {
  Cell cell;
  if (draft.write) {
    cell.address = *draft.write;
    cell.function = draft.function.value_or(defaults.write);
    return WriteStep{cell, draft.value};
  }
  cell.address = draft.wait.value_or(0);
  cell.function = draft.function.value_or(defaults.read);
  return WaitStep{cell, draft.mask.value_or(0xFFFF), draft.value,
                  draft.within.value_or(kWaitUnlessSaid)};
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

bool read_function(const Place& place, Use use, Function& into) {
  const int low = use == Use::read ? 3 : 6;
  const int high = use == Use::read ? 4 : 16;
  const double value = place.node.type == Node::Type::number ? place.node.number : 0.0;
  if (value != low && value != high)
    return place.refuse(std::to_string(low) + " or " + std::to_string(high));
  into = static_cast<Function>(static_cast<int>(value));
  return true;
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

Conflicts value_outside_mask(std::uint16_t mask, std::uint16_t value) {
  if ((value & ~mask) == 0)
    return {};
  return {{"value", word_text(value), "only bits of the mask, which is " + word_text(mask),
           "correct one of the two: as it stands no word can agree"}};
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
  look("read_function", [&](const Place& p) { return read_function(p, Use::read, defaults.read); });
  look("write_function",
       [&](const Place& p) { return read_function(p, Use::write, defaults.write); });
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
