// The film over time in plain characters, thickness in decades: the same on every terminal and in
// every log.
#pragma once

#include "whirler/film/thinning.hpp"

#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

/// Lines of at most 79 characters: '#' the wet film, 'o' the solids in it, '*' where they meet;
/// below, the time. `factor`: calibration, on both.
[[nodiscard]] std::vector<std::string> film_drawing(std::span<const film::TracePoint> trace,
                                                    double factor);

} // namespace whirler::cli
