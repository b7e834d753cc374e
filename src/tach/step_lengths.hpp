// The lengths of a turn's steps that the mount's equation is integrated along, kept to what a motor
// can do: the same for a recorded run and a live one.
#pragma once

#include "turn_rows.hpp"

#include <cstddef>
#include <span>

namespace whirler::tach {

/// A ramp that multiplies the speed within a turn is no spline's, and steps that come out backwards
/// or in no time would kick the mount as no motor can. Such a turn is taken as changing evenly from
/// the speed of the turn before it to that of the turn after.
/// `step_s`: lengths of the steps of turn `turn` as the marks tell them, s, in sum about the
/// turn's.
void keep_between_neighbours(const TurnRows& rows, std::size_t turn, std::span<double> step_s);

} // namespace whirler::tach
