// Values with a place, as they are typed: "3.4@116deg", "2g@0deg@30mm", "12@25mm".
#pragma once

#include "whirler/balance/influence.hpp"
#include "whirler/balance/places.hpp"
#include "whirler/units/result.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

/// "116 deg", from 0 up to 360; a rounding error's worth beside 0 is 0.
[[nodiscard]] std::string angle_text(Angle angle);

/// "SIZE@ANGLE". Faults (command_line): anything else; a size below zero.
[[nodiscard]] Result<balance::Reading> parse_reading(const std::string& text);

/// "MASS@ANGLE@RADIUS"; without the angle it is 0. Faults (command_line): anything else.
[[nodiscard]] Result<balance::PlacedMass> parse_trial(const std::string& text);

/// "COUNT@RADIUS", or "COUNT@ANGLE@RADIUS" with the first one's angle. Faults (command_line):
/// anything else; a count that is not whole, or not 1 to 128.
[[nodiscard]] Result<std::vector<balance::Place>> parse_places(const std::string& text);

/// A ring without the holes that are taken, each named by its angle. Faults: what is no angle
/// (command_line); no hole of the ring within 5 degrees, or none left (input).
[[nodiscard]] Result<std::vector<balance::Place>> without(std::vector<balance::Place> ring,
                                                          const std::vector<std::string>& taken);

/// Numbers between commas. Faults (command_line): anything else.
[[nodiscard]] Result<std::vector<double>> parse_numbers(const std::string& text);

/// A balance grade: "6.3", "G6.3", "G 6.3" or "6.3mm/s". Faults (command_line): anything else.
[[nodiscard]] Result<Velocity> parse_grade(const std::string& text);

} // namespace whirler::cli
