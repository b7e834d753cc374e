#include "plate_input.hpp"

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

} // namespace whirler::cli
