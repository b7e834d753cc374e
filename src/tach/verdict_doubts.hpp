// What speaks against a verdict once it is there: each says so in its reason, and takes an even one
// back where it no longer stands.
#pragma once

#include "whirler/tach/recording.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>

namespace whirler::tach {

/// What the file says of the mount is wrong, or the wrong file was named: said with whatever the
/// verdict is.
void doubt_named_mount(Analysis& out, const SpinnerModel& model);
/// Where no run-up shows the mount, the figure is worth what the file's natural speed is: says what
/// a softer and a stiffer one would make of it.
void lean_on_named_mount(Analysis& out, const Evidence& evidence, const SpinnerModel& model);
/// A run-up that one mount does not explain: what it leaves is said, and an even one is not
/// believed on the word of a fit that does not hold.
void doubt_fit(Analysis& out);
/// A slow dwell says nothing good of a speed that the run reached as well: unbalance grows with the
/// speed. So an even one is judged once more, as it would be there.
void hold_to_top_speed(Analysis& out, const Evidence& evidence, const SpinnerModel& model);
/// A plate that moves is even today and not tomorrow; and what comes again every second turn may be
/// a turn that was counted as two.
void doubt_moving_plate(Analysis& out);
/// `why` a baseline that was given is not taken; empty where it is.
void say_unused(Analysis& out, const std::string& why, const SpinnerModel& model);
/// Without an index only the pattern tells that the marks are as many as was said. `ticks`: one
/// speed.
[[nodiscard]] std::optional<Fault> doubt_count(std::span<const std::int64_t> ticks,
                                               std::size_t marks);
/// Of even marks without an index a disc of 24 that is taken for one of 48 shows its whirl twice a
/// turn: nothing once, so nothing to stop for.
void doubt_halves(Analysis& out, std::span<const std::int64_t> ticks, std::size_t marks);

} // namespace whirler::tach
