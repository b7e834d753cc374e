// A plate's hole out of the phase of a run: what the tach saw of the unbalance says where the
// spindle went through the plate, whatever the file says.
#pragma once

#include "jitter_input.hpp"
#include "plate_input.hpp"
#include "whirler/balance/influence.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct HoleFromRun {
  blank::Blank blank; ///< the file's plate with the hole where the run has it
  blank::Properties properties;
  std::string source; ///< "coat 12"
  Length uncertainty; ///< of the hole's place, half the 95 % interval; masses taken off widen it
  bool shown = true;  ///< false: nothing off that the run could tell; the hole is put in the middle
  std::vector<balance::PlacedMass> taken_off{}; ///< balancing masses that were on in that run
  bool with_hub = true; ///< the hub's own unbalance is in it, for want of a baseline
};

/// Faults (input): no machine named (it says which way the rotor turns), or one that turns the
/// other way; another plate than the record's; a run that does not tell the unbalance with its
/// angle from the index mark, or tells one that no hole of this plate makes; balancing masses on
/// that are not known; a baseline that takes nothing off. None: mistakes in files. The hub's own
/// unbalance counts as the plate's, unless a baseline takes it off.
[[nodiscard]] std::optional<Result<HoleFromRun>> hole_from_run(FileLoader& files,
                                                               const std::string& notebook,
                                                               const JitterWords& words,
                                                               const Plate& plate);

} // namespace whirler::cli
