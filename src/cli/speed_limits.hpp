// What plate and machine allow of the speed, each as one limit with the reason in words.
#pragma once

#include "plate_input.hpp"
#include "whirler/film/speed_choice.hpp"

#include <vector>

namespace whirler::cli {

/// machine and speed_min from the machine file; balance_grade where its grade and the plate are
/// known; laminar where the plate is (beyond it the air over the corners turns turbulent and the
/// film uneven: a warning, not a stop); corner_speed likewise. The driver's own limits are read
/// when it answers, and the smaller of driver and file acts then.
[[nodiscard]] Result<std::vector<film::SpeedLimit>> speed_limits(const Plate& plate,
                                                                 Temperature air);

/// [{"name", "speed_rpm", "kind": "highest"|"lowest", "hard", "why"}, …]
[[nodiscard]] Json to_json(const std::vector<film::SpeedLimit>& limits);

} // namespace whirler::cli
