// The boards that were measured with a resist, in a file beside it:
//
//   {"kind": "calibration", "format": 1, "resist": "amber",
//    "boards": [{"speed_rpm": 3000, "thickness_um": 1.62, "temperature_C": 21, "how": "gauge"}]}
//
// Boards, not the factor that they teach: that follows from them and from the model, and a better
// model relearns it. Why not in the resist file: see src/cli/bottle.hpp.
#pragma once

#include "whirler/files/file_fault.hpp"
#include "whirler/film/calibration.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace whirler::files {

struct CalibrationFile {
  std::string resist; ///< its name, for people
  std::vector<film::Board> boards;
};

/// Required: boards, each with speed_rpm and thickness_um. Optional: resist; a board's
/// temperature_C, dwell_s, and how ("gauge" or "weighed").
[[nodiscard]] Read<CalibrationFile> read_calibration(std::string_view text,
                                                     const std::string& file);

/// The text that `read_calibration` reads back to the same, a board a line.
[[nodiscard]] std::string write_calibration(const CalibrationFile& calibration);

} // namespace whirler::files
