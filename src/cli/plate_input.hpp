// The plate and the machine that `blank` and `balance` are told of, by file name.
#pragma once

#include "load.hpp"
#include "whirler/blank/direction.hpp"
#include "whirler/machine/machine.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct PlateOptions {
  std::string blank;
  std::string machine;
  std::optional<Angle> x_at;
  bool turned_over = false;
};

/// What the files say.
struct Plate {
  std::optional<blank::Blank> blank;
  std::optional<blank::Properties> properties; ///< of the blank
  std::optional<machine::Machine> machine;
  blank::Mounting mounting;

  /// Of the rotor and the plate on it, as far as they are known.
  [[nodiscard]] Mass turning_mass() const;
};

/// How the plate is bolted on, of a rotor whose angles are known.
void add_mounting_options(CLI::App& command, PlateOptions& options);

/// What the named files say. Mistakes in them are kept by `files`: ask it first. Faults (input): a
/// blank that is well written but no possible plate.
[[nodiscard]] Result<Plate> load_plate(FileLoader& files, const PlateOptions& options);

} // namespace whirler::cli
