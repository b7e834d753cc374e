// What a person can do about a plate that is off balance, in the order in which to try it: shift it
// on its hub, put a counter-mass on the hub's rim, run slower, drill a new blank.
//
// The spindle stands in the hole: a plate can be shifted by less than the hole's radius, and by how
// much less the screw's thickness says, which nobody has told.
//
// Directions are in the frame of the unbalance that was given, whichever that is.
#pragma once

#include "whirler/balance/influence.hpp"

#include <optional>

namespace whirler::balance {

struct OffBalance {
  PlacedUnbalance unbalance;          ///< towards the heavy side
  Mass plate;                         ///< as it is bolted on
  Mass undrilled;                     ///< before the hole on the spindle was drilled
  std::optional<Mass> rotor;          ///< all that turns, the plate excepted
  std::optional<Velocity> grade;      ///< that the machine asks for
  std::optional<Length> rim;          ///< radius at which a counter-mass can go
  std::optional<Length> hole;         ///< diameter of the hole on the spindle
  std::optional<Unbalance> at_most{}; ///< where the unbalance is known so far only
};

struct Move {
  Length by;
  Angle towards;
};

struct Cures {
  Move shift;                        ///< of the plate on the hub
  bool hole_lets_shift = true;       ///< its hole has that much room, as far as is known
  std::optional<PlacedMass> counter; ///< on the rim
  std::optional<Speed> slower;       ///< at most, for the grade, whatever the unbalance may be
  Move redrill;                      ///< of the hole, in a new blank
};

/// Faults (input): an unbalance that is not finite, a mass, grade or radius not above zero.
[[nodiscard]] Result<Cures> cures(const OffBalance& off);

} // namespace whirler::balance
