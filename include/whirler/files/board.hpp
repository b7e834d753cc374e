// What `coat` works from: one board, with the files that it needs and the film wanted on it.
//
// The file names other files and repeats nothing of them, so that a bottle's label or a machine's
// limit is put right in one place. Their paths count from the board file's own folder: a folder of
// files moves as one.
#pragma once

#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::files {

/// The step in which the puddle spreads.
struct SpreadStep {
  Speed speed;
  Duration dwell;
};

struct Board {
  std::string name; ///< its own mark or number: the notebook finds it by this
  std::string resist;
  std::string blank;
  std::string machine;
  std::optional<Length> target; ///< dry film; the speed follows from it
  std::string profile;          ///< or the spin is given
  std::vector<std::string> sides{"side one", "side two"};
  std::optional<SpreadStep> spread;
  std::optional<Duration> dwell;  ///< at speed; needed by a liquid that does not dry
  std::optional<Irradiance> lamp; ///< at the plate
};

} // namespace whirler::files
