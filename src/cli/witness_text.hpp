// A measured board as people type it: thickness, speed, and the room's temperature if known.
#pragma once

#include "whirler/film/rule.hpp"

#include <string_view>

namespace whirler::cli {

/// "1.62um@3000rpm" or "1.62um@3000rpm@22C". Fault (command_line): else.
[[nodiscard]] Result<film::Known> parse_witness(std::string_view text);

/// A step before the speed, at which the puddle spreads.
struct Spread {
  Duration dwell;
  Speed speed;
};
/// "5s@500rpm". Fault (command_line): else.
[[nodiscard]] Result<Spread> parse_spread(std::string_view text);

} // namespace whirler::cli
