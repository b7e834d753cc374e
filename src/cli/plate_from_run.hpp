// A plate's hole out of the phase of a run: what the tach saw of the unbalance says where the
// spindle went through the plate, whatever the file says.
#pragma once

#include "jitter_input.hpp"
#include "plate_input.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct HoleFromRun {
  blank::Blank blank; ///< the file's plate with the hole where the run has it
  blank::Properties properties;
  std::string source; ///< "coat 12"
  Length uncertainty; ///< of the hole's place, half the 95 % interval
};

/// Faults (input): no machine named (it says which way the rotor turns), a run that does not tell
/// the unbalance with its angle, or tells one that no hole of this plate makes. None: mistakes in
/// files. The hub's own unbalance counts as the plate's, unless a baseline takes it off.
[[nodiscard]] std::optional<Result<HoleFromRun>> hole_from_run(FileLoader& files,
                                                               const std::string& notebook,
                                                               const JitterWords& words,
                                                               const Plate& plate);

} // namespace whirler::cli
