#include "plate_input.hpp"

#include "parsed_option.hpp"
#include "placed_values.hpp"
#include "whirler/blank/validity.hpp"

#include <cmath>

namespace whirler::cli {

Mass Plate::turning_mass() const {
  Mass mass;
  if (machine)
    mass += machine->rotor.mass;
  if (properties)
    mass += properties->mass;
  return mass;
}

void add_mounting_options(CLI::App& command, PlateOptions& options) {
  add_quantity<Angle>(command, "--plate-at", options.x_at,
                      "Where the plate's right-hand side is: from the index mark, with the "
                      "rotation (0deg)");
  command.add_flag("--turned-over", options.turned_over, "The side that the file shows is below");
}

Result<Plate> load_plate(FileLoader& files, const PlateOptions& options) {
  Plate plate;
  plate.mounting.x_at = options.x_at.value_or(degrees(0.0));
  plate.mounting.turned_over = options.turned_over;
  if (!options.machine.empty()) {
    const auto machine = files.load<machine::Machine>(options.machine);
    if (machine) {
      plate.machine = machine->value;
      plate.mounting.clockwise = machine->value.direction == machine::Direction::clockwise;
    }
  }
  if (options.blank.empty())
    return plate;
  const auto blank = files.load<blank::Blank>(options.blank);
  if (!blank)
    return plate;
  plate.blank = blank->value;
  const auto properties = blank::properties(blank->value);
  if (!properties) {
    Fault fault = properties.fault();
    fault.where = options.blank;
    return fault;
  }
  plate.properties = *properties;
  plate.blank->hole.at = properties->axis; // where edge distances said it
  return plate;
}

std::string with_rotation(const Plate& plate) {
  if (!plate.machine)
    return "with the rotation";
  return std::string("with the rotation, ") +
         (plate.mounting.clockwise ? "clockwise" : "counter-clockwise") + " seen from above";
}

Outcome check_mounting_words(const PlateOptions& options, bool matters, const std::string& needs) {
  if (matters || (!options.x_at && !options.turned_over))
    return Done{};
  return command_line_fault(std::string(options.x_at ? "--plate-at" : "--turned-over") +
                                " is for a rotor's angles, and there is no " + needs,
                            "give " + needs + ", or leave it out");
}

std::string way_text(const blank::Outline& outline, bool turned_over, Length by, Angle on_plate,
                     const std::string& frame) {
  const Angle lying = turned_over ? -1.0 * on_plate : on_plate;
  const std::string side = blank::true_side_words(outline, lying);
  return blank::way_words(by, lying) + (side.empty() ? "" : ", towards the " + side) + " (" +
         angle_text(on_plate) + (turned_over ? " on the drawing" : frame) + ")";
}

std::string turned_over_text(bool turned_over) {
  return turned_over ? "Right, left, away from you and towards you are as the plate lies on the "
                       "hub, seen from above, the drawing's side below; degrees are the drawing's"
                     : "";
}

bool new_hole_fits(const blank::Blank& blank, Length by, Angle towards) {
  blank::Blank next = blank;
  next.hole.at = {blank.hole.at.x + std::cos(towards.rad()) * by,
                  blank.hole.at.y + std::sin(towards.rad()) * by};
  return blank::check_holes(next).ok();
}

} // namespace whirler::cli
