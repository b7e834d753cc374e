// A drive that its own file cannot stop, or that the file starts too soon, is refused: nobody finds
// it out at the bench before the motor turns.
#include "drive_told.hpp"

#include <algorithm>

namespace whirler::files {
namespace {

using namespace modbus;

/// A rule about sequences, asked for each direction; what one finds the other does not repeat.
using OfDirection = std::function<Conflicts(const DriveDraft&, bool counterclockwise)>;

std::function<Conflicts(const DriveDraft&)> either_way(OfDirection find) {
  return [find = std::move(find)](const DriveDraft& draft) {
    auto found = find(draft, false);
    return found.empty() ? find(draft, true) : found;
  };
}

/// The last value that the start left where `one` writes; none where it wrote nothing there.
const Told* left_by(const std::vector<Told>& start, const Told& one) {
  const auto at = std::find_if(start.rbegin(), start.rend(),
                               [&](const Told& other) { return overlap(other.cell, one.cell); });
  return at == start.rend() ? nullptr : &*at;
}

bool changes(const std::vector<Told>& start, const Told& one) {
  const Told* left = left_by(start, one);
  return left != nullptr && left->value != one.value;
}

bool is_run(const std::vector<Told>& start, const Told& one) {
  const Told& run = run_write(start);
  return overlap(run.cell, one.cell) && run.value == one.value;
}

/// Those of `told` that start the motor.
Conflicts starting(const std::vector<Told>& start, const std::vector<Told>& told,
                   const std::string& instead, const std::string& next) {
  Conflicts found;
  for (const Told& one : told)
    if (is_run(start, one))
      found.push_back({one.path,
                       word_text(one.value) + " to " + place_text(one.cell) +
                           ", which is what starts the motor (" + run_write(start).path + ")",
                       instead, next});
  return found;
}

std::string stop_next(const std::vector<Told>& start) {
  return "write the stop value of the manual to " + place_text(run_write(start).cell) +
         "; where stopping has a register of its own, let \"start\" write its resting value first";
}

Conflicts stop_that_stops_nothing(const DriveDraft& draft, bool counterclockwise) {
  const auto start = told_to_start(draft, counterclockwise);
  const auto stop = told_to_stop(draft, counterclockwise);
  if (start.empty() || stop.empty())
    return {};
  auto found =
      starting(start, stop, "a value that ends the run", "write the stop value of the manual");
  if (!found.empty())
    return found;
  const auto ends = [&](const Told& one) { return changes(start, one); };
  const Told& first = stop.front();
  const std::string here = word_text(first.value) + " to " + place_text(first.cell);
  const std::string run = place_text(run_write(start).cell);
  if (std::none_of(stop.begin(), stop.end(), ends))
    return {{first.path, here + ", and \"start\" leaves nothing else there than that",
             "a write that changes what \"start\" wrote to " + run, stop_next(start)}};
  if (draft.cut.empty() && !ends(first))
    return {{first.path, here + " before the write that ends the run",
             "the write that ends the run first, where there is no \"cut\": it goes ahead of all "
             "else, and may be the only one that gets through",
             "put it first"}};
  return {};
}

Conflicts start_without_write(const DriveDraft& draft) {
  if (!told(draft.start, "start", false).empty())
    return {};
  return {{"start/0", "waits only", "a write that starts the motor", "add it"}};
}

Conflicts cut_that_cuts_nothing(const DriveDraft& draft, bool counterclockwise) {
  const auto start = told_to_start(draft, counterclockwise);
  const auto cut = told(draft.cut, "cut", counterclockwise);
  if (start.empty() || cut.empty())
    return {};
  auto found = starting(start, cut, "a value that takes the motor's current away",
                        "write what the manual gives for coasting or disabling");
  const Told& first = cut.front();
  const Told* left = left_by(start, first);
  if (found.empty() && left != nullptr && left->value == first.value)
    found.push_back({first.path,
                     word_text(first.value) + " to " + place_text(first.cell) +
                         ", which \"start\" has written there already (" + left->path + ")",
                     "first a write that takes the motor's current away", stop_next(start)});
  return found;
}

Rule<DriveDraft> starts_too_soon(const std::string& run, const std::string& key,
                                 std::function<std::vector<Told>(const DriveDraft&, bool)> told) {
  return {{run, key}, either_way([key, told = std::move(told)](const DriveDraft& draft, bool ccw) {
            const auto start = told_to_start(draft, ccw);
            if (start.empty())
              return Conflicts{};
            return starting(start, told(draft, ccw),
                            "nothing that starts it: \"" + key + "\" is written before the run",
                            "take it out, or correct the value");
          })};
}

std::vector<Told> told_to_reset(const DriveDraft& draft, bool) {
  if (!draft.reset)
    return {};
  return {{draft.reset->cell, draft.reset->value, "fault_reset/value"}};
}

} // namespace

std::vector<Rule<DriveDraft>> stop_rules() {
  using D = const DriveDraft&;
  std::vector<Rule<DriveDraft>> rules{
      {{"start"}, start_without_write},
      {{"start", "stop"}, either_way(stop_that_stops_nothing)},
  };
  for (const std::string run : {"run", "start"}) {
    rules.push_back({{run, "cut"}, either_way(cut_that_cuts_nothing)});
    rules.push_back(starts_too_soon(
        run, "setup", [](D draft, bool ccw) { return told(draft.setup, "setup", ccw); }));
    rules.push_back(starts_too_soon(
        run, "clear", [](D draft, bool ccw) { return told(draft.clear, "clear", ccw); }));
    rules.push_back(starts_too_soon(run, "fault_reset", told_to_reset));
  }
  return rules;
}

} // namespace whirler::files
