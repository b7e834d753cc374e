#include "room_options.hpp"

#include "parsed_option.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::cli {

film::Cover cover_of(machine::Air air) {
  switch (air) {
  case machine::Air::open:
    return film::Cover::open;
  case machine::Air::lidded:
    return film::Cover::lidded;
  case machine::Air::vented:
    return film::Cover::vented;
  }
  return film::Cover::open;
}

namespace {

const char* cover_text(film::Cover cover) {
  switch (cover) {
  case film::Cover::lidded:
    return ", under a lid";
  case film::Cover::vented:
    return ", under a vented lid";
  case film::Cover::open:
    break;
  }
  return "";
}

} // namespace

std::string room_text(const film::Air& air, const film::Resist* resist) {
  const auto is_water = [](const film::SolventShare& part) { return part.name == "water"; };
  const bool wet =
      resist != nullptr && std::any_of(resist->solvents.begin(), resist->solvents.end(), is_water);
  return number_text(air.temperature.celsius()) + " C" +
         (wet ? ", " + number_text(100.0 * air.humidity) + " % humidity" : "") +
         cover_text(air.cover);
}

Result<double> parse_humidity(std::string_view text) {
  std::string_view digits = text;
  while (digits.ends_with(' '))
    digits.remove_suffix(1);
  const bool per_cent = digits.ends_with('%');
  if (per_cent)
    digits.remove_suffix(1);
  const auto number = parse_number(digits);
  if (number && (per_cent || (*number >= 0.0 && *number <= 1.0)))
    return per_cent ? *number / 100.0 : *number;
  return Fault{FaultKind::command_line, "'" + std::string(text) + "' is not a humidity", "",
               "write it as 45% or 0.45"};
}

void add_room_options(CLI::App& command, RoomOptions& room) {
  add_quantity<Temperature>(command, "--temperature", room.temperature,
                            "Of the room and the bottle, as 22C");
  add_parsed(command, "--humidity", "Of the room's air, as 45%; matters for water", "SHARE",
             [&room](std::string_view text) {
               return keep(parse_humidity(text), [&](double share) { room.humidity = share; });
             });
}

film::Air air_of(const RoomOptions& room, Temperature otherwise,
                 const std::optional<machine::Air>& cover) {
  film::Air air;
  air.temperature = room.temperature.value_or(otherwise);
  air.humidity = room.humidity.value_or(air.humidity);
  air.cover = cover ? cover_of(*cover) : film::Cover::open;
  return air;
}

} // namespace whirler::cli
