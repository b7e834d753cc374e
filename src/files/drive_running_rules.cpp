// "running" tells a drive that works from one that has stopped by itself. Where the file's own
// words show that it says the same of both, it tells nothing, and is refused.
#include "drive_told.hpp"

#include <algorithm>

namespace whirler::files {
namespace {

using namespace modbus;

bool works(const RunningDraft& test, std::uint16_t word) {
  return (word & test.mask()) == test.value;
}

Conflict tells_nothing(const std::string& found, const std::string& next) {
  return {"running/value", found, "a value that the drive shows only while it works", next};
}

/// Waits for a word in a state in which the drive is off, and the word passes for "running".
Conflicts at_rest_by(const DriveDraft& draft, const std::string& key, const Sequence& sequence,
                     std::size_t steps) {
  const auto& test = *draft.running_draft;
  for (std::size_t i = 0; i < steps; ++i) {
    const auto* wait = std::get_if<WaitStep>(&sequence[i]);
    if (wait == nullptr || wait->cell.address != test.cell.address ||
        wait->cell.function != test.cell.function || (test.mask() & ~wait->mask) != 0)
      continue;
    if (works(test, wait->value))
      return {tells_nothing(word_text(test.value) + ", which \"" + key + "\" waits for too (step " +
                                std::to_string(i + 1) + ") while the motor is off",
                            "take the value after the last step of \"start\" from the manual")};
  }
  return {};
}

Rule<DriveDraft> off_after(const std::string& key, Sequence Description::*sequence) {
  return {{"running", key}, [=](const DriveDraft& draft) {
            return at_rest_by(draft, key, draft.*sequence, (draft.*sequence).size());
          }};
}

/// Before the write that starts the motor it is off.
Conflicts off_before_start(const DriveDraft& draft) {
  const auto& start = draft.start;
  const auto last = std::find_if(start.rbegin(), start.rend(), [](const Step& step) {
    return std::holds_alternative<WriteStep>(step);
  });
  return at_rest_by(draft, "start", start, static_cast<std::size_t>(start.rend() - last));
}

/// Read in the register that "run" writes.
Conflicts blind_to_run(const DriveDraft& draft) {
  const auto& test = *draft.running_draft;
  if (!overlap(test.cell, draft.run->cell) || !works(test, draft.run->off))
    return {};
  return {tells_nothing(word_text(test.value) + " under " + word_text(test.mask()) +
                            ", which \"off\" of \"run\" shows in that register too",
                        "name the drive's own status word, or the bit that \"on\" sets")};
}

Conflicts asks_for_fault(const DriveDraft& draft) {
  const auto& test = *draft.running_draft;
  const auto& fault = draft.fault_draft;
  if (test.cell.address != fault.cell.address || test.cell.function != fault.cell.function ||
      (test.value & fault.mask()) == 0)
    return {};
  return {tells_nothing(word_text(test.value) + ", with a bit that \"fault\" calls a fault (" +
                            word_text(fault.mask()) + ")",
                        "correct one of the two masks")};
}

} // namespace

std::vector<Rule<DriveDraft>> running_rules() {
  return {off_after("stop", &Description::stop),   off_after("cut", &Description::cut),
          off_after("clear", &Description::clear), {{"running", "start"}, off_before_start},
          {{"running", "run"}, blind_to_run},      {{"running", "fault"}, asks_for_fault}};
}

} // namespace whirler::files
