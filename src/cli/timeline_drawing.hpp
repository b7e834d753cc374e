// A profile as a person checks it before a run: its speed over time drawn in plain characters, and
// its steps in words. Plain ASCII, so that it reads the same on every terminal and in every log.
#pragma once

#include "whirler/profile/timeline.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

/// Lines of the drawing: six rows of speed and a time axis, at most 79 characters wide.
[[nodiscard]] std::vector<std::string> drawing(const profile::Timeline& timeline);
/// The same of a speed as it was run, from 0 to its last knot. Empty where nothing turned.
[[nodiscard]] std::vector<std::string> drawing(const SpeedCurve& curve);

/// A line a step, the stop, and the time in all.
[[nodiscard]] std::vector<std::string> steps_in_words(const profile::Profile& profile,
                                                      const profile::Timeline& timeline);

} // namespace whirler::cli
