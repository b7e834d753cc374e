// Which of a drive's keys may name the same register. A control or status word serves several: run,
// fault reset; running, fault. A number, a direction and a time-out have theirs to themselves: two
// in one place would spoil each other, and a speed read where the target is written tells what was
// asked for and not what the shaft does.
#include "drive_told.hpp"

namespace whirler::files {
namespace {

using namespace modbus;

struct NamedCell {
  const char* key;
  bool alone; ///< shares its register with nobody
  bool written;
  std::optional<Cell> (*of)(const DriveDraft&);
};

template <class Part>
std::optional<Cell> cell_of(const std::optional<Part>& part) {
  return part ? std::optional(part->cell) : std::nullopt;
}

std::optional<Cell> direction_cell(const DriveDraft& draft) {
  const auto& direction = draft.direction_draft;
  return direction && !direction->by_sign ? std::optional(direction->cell) : std::nullopt;
}

std::optional<Cell> dead_man_cell(const DriveDraft& draft) {
  const auto& dead_man = draft.dead_man_draft;
  return dead_man && !dead_man->fixed ? std::optional(dead_man->set_by.cell) : std::nullopt;
}

using D = const DriveDraft&;
constexpr NamedCell kCells[] = {
    {"target", true, true, [](D d) { return std::optional(d.target.cell); }},
    {"actual", true, false, [](D d) { return std::optional(d.actual_draft.cell); }},
    {"slope", true, true, [](D d) { return cell_of(d.slope_draft); }},
    {"slope_down", true, true, [](D d) { return cell_of(d.slope_down_draft); }},
    {"run", false, true, [](D d) { return cell_of(d.run); }},
    {"direction", true, true, direction_cell},
    {"dead_man", true, true, dead_man_cell},
    {"fault", false, false, [](D d) { return std::optional(d.fault_draft.cell); }},
    {"fault_code", false, false, [](D d) { return cell_of(d.fault_code); }},
    {"fault_reset", false, true, [](D d) { return cell_of(d.reset); }},
    {"running", false, false, [](D d) { return cell_of(d.running_draft); }}};

/// What to do about two that share a register.
std::string way_out(const std::string& one, const std::string& other) {
  if (one == "run" && other == "direction")
    return R"(one word for both: leave "direction" out, and give "run" a "cw" and a "ccw" value )"
           R"(in place of "on")";
  if (one == "slope" && other == "slope_down")
    return R"(one register for both: leave "slope_down" out)";
  if (one == "target" && other == "actual")
    return "name the register that the drive measures in: this one gives back what was asked for";
  return "correct one of the two addresses; a value of 32 bits has two registers";
}

Rule<DriveDraft> apart(const NamedCell& one, const NamedCell& other) {
  return {{one.key, other.key}, [one, other](const DriveDraft& draft) -> Conflicts {
            const auto first = one.of(draft);
            const auto second = other.of(draft);
            if (!first || !second || !overlap(*first, *second))
              return {};
            const auto last = static_cast<std::uint16_t>(first->address + first->count() - 1);
            return {{std::string(other.key) + "/address", word_text(second->address),
                     std::string("registers that \"") + one.key + "\" leaves free: it has " +
                         word_text(first->address) +
                         (first->count() == 1 ? "" : " to " + word_text(last)),
                     way_out(one.key, other.key)}};
          }};
}

/// A sequence that writes what the program itself writes. A target of zero does no harm.
Rule<DriveDraft> not_in(const NamedCell& owner, const std::string& key,
                        Sequence Description::*sequence) {
  return {{owner.key, key}, [=](const DriveDraft& draft) {
            Conflicts found;
            const auto cell = owner.of(draft);
            const bool is_target = std::string(owner.key) == "target";
            for (const Told& one : told(draft.*sequence, key, false))
              if (cell && overlap(*cell, one.cell) && !(is_target && one.value == 0))
                found.push_back({one.path,
                                 word_text(one.value) + " to " + place_text(one.cell) +
                                     ", the register of \"" + owner.key + "\"",
                                 std::string("registers without a key of their own: \"") +
                                     owner.key + "\" is written by the program",
                                 "take the step out"});
            return found;
          }};
}

} // namespace

std::vector<Rule<DriveDraft>> register_rules() {
  std::vector<Rule<DriveDraft>> rules;
  for (const auto& one : kCells)
    for (const auto* other = &one + 1; other != std::end(kCells); ++other)
      if (one.alone || other->alone)
        rules.push_back(apart(one, *other));
  for (const auto& owner : kCells)
    for (const auto& [key, sequence] : {std::pair{"setup", &Description::setup},
                                        {"clear", &Description::clear},
                                        {"start", &Description::start},
                                        {"stop", &Description::stop},
                                        {"cut", &Description::cut}})
      if (owner.alone && owner.written)
        rules.push_back(not_in(owner, key, sequence));
  return rules;
}

} // namespace whirler::files
