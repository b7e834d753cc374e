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

/// How a rotor's angles are counted: "with the rotation, clockwise seen from above", the latter
/// where a machine is named.
[[nodiscard]] std::string with_rotation(const Plate& plate);

/// How the plate is bolted on was said, and there is nothing that it would matter to. Fault
/// (command_line): so, naming the option; `needs` is what is missing.
[[nodiscard]] Outcome check_mounting_words(const PlateOptions& options, bool matters,
                                           const std::string& needs);

/// A way on the plate as it lies on the hub: "0.82 mm to the right and 0.57 mm away from you (35
/// deg)", with the edge or corner where one truly lies there. The angle is the drawing's; `frame`
/// says so where others are about.
[[nodiscard]] std::string way_text(const blank::Outline& outline, bool turned_over, Length by,
                                   Angle on_plate, const std::string& frame = "");

/// Whose directions `way_text` gives where the plate lies turned over; empty where it does not.
[[nodiscard]] std::string turned_over_text(bool turned_over);

/// Whether a new blank takes the hole on the spindle there: there is material all round it.
[[nodiscard]] bool new_hole_fits(const blank::Blank& blank, Length by, Angle towards);

} // namespace whirler::cli
