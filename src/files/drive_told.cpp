#include "drive_told.hpp"

#include <algorithm>

namespace whirler::files {

using namespace modbus;

namespace {

/// The tables of the application protocol, 4.3.
int table_of(const Cell& cell) {
  switch (cell.function) {
  case Function::read_coils:
  case Function::write_coil:
    return 0;
  case Function::read_discrete:
    return 1;
  case Function::read_input:
    return 2;
  case Function::read_holding:
  case Function::write_one:
  case Function::write_many:
    break;
  }
  return 3;
}

} // namespace

std::vector<Told> told(const Sequence& sequence, const std::string& key, bool counterclockwise) {
  std::vector<Told> all;
  for (std::size_t i = 0; i < sequence.size(); ++i)
    if (const auto* step = std::get_if<WriteStep>(&sequence[i])) {
      const char* const both = counterclockwise ? "/ccw" : "/cw";
      all.push_back({step->cell, step->value_for(counterclockwise),
                     key + "/" + std::to_string(i) + (step->counterclockwise ? both : "/value")});
    }
  return all;
}

std::vector<Told> told_to_start(const DriveDraft& draft, bool counterclockwise) {
  if (!draft.run)
    return told(draft.start, "start", counterclockwise);
  if (!draft.start.empty())
    return {};
  const auto& run = *draft.run;
  if (run.on)
    return {{run.cell, *run.on, "run/on"}};
  return {counterclockwise ? Told{run.cell, run.ccw.value_or(0), "run/ccw"}
                           : Told{run.cell, run.cw.value_or(0), "run/cw"}};
}

std::vector<Told> told_to_stop(const DriveDraft& draft, bool counterclockwise) {
  if (!draft.run)
    return told(draft.stop, "stop", counterclockwise);
  if (!draft.stop.empty())
    return {};
  return {{draft.run->cell, draft.run->off, "run/off"}};
}

const Told& run_write(const std::vector<Told>& start) {
  const Told& last = start.back();
  if (last.value != 0)
    return last;
  const auto pushed = std::find_if(start.rbegin(), start.rend(), [&](const Told& one) {
    return one.value != 0 && overlap(one.cell, last.cell);
  });
  return pushed == start.rend() ? last : *pushed;
}

bool overlap(const Cell& one, const Cell& other) {
  return table_of(one) == table_of(other) && one.address < other.address + other.count() &&
         other.address < one.address + one.count();
}

std::string place_text(const Cell& cell) {
  const bool bits = is_of_bits(cell.function);
  const char* const what = cell.function == Function::read_discrete ? "discrete input "
                           : bits                                   ? "coil "
                                                                    : "register ";
  return what + std::to_string(cell.address) + " (" + word_text(cell.address) + ")";
}

} // namespace whirler::files
