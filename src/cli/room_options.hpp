// --temperature and --humidity, and the air that they and the machine's cover make.
#pragma once

#include "context.hpp"
#include "whirler/film/air.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/machine/machine.hpp"

#include <optional>

namespace whirler::cli {

struct RoomOptions {
  std::optional<Temperature> temperature;
  std::optional<double> humidity; ///< 0 to 1
};

/// `room` has to outlive the parsing.
void add_room_options(CLI::App& command, RoomOptions& room);

[[nodiscard]] film::Cover cover_of(machine::Air air);

/// Without --temperature `otherwise`, without --humidity 45 %, without a machine open air.
[[nodiscard]] film::Air air_of(const RoomOptions& room, Temperature otherwise,
                               const std::optional<machine::Air>& cover);

/// "22 C"; of a resist with water in it "22 C, 45 % humidity", since that matters there; with the
/// machine's cover where it has one, "22 C, under a lid".
[[nodiscard]] std::string room_text(const film::Air& air, const film::Resist* resist);

/// "45%", "45 %" or "0.45" as 0.45. Fault (command_line): else.
[[nodiscard]] Result<double> parse_humidity(std::string_view text);

} // namespace whirler::cli
