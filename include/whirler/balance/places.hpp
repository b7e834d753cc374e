// A correction shared out among the places where a mass can go: the holes in a hub's rim.
//
// Of all ways to share, the one with the least mass is taken. Without a limit a place that is the
// two holes either side of the wanted angle, or a single one that lies there within half a degree;
// where a hole takes only so much, its neighbours help.
// The least-mass problem is linear, so at its answer at most two places are partly filled and
// every other is empty or full: all pairs are tried.
#pragma once

#include "whirler/balance/influence.hpp"

#include <optional>
#include <span>
#include <vector>

namespace whirler::balance {

struct Place {
  Angle at;
  Length radius;
};

/// `count` places evenly round the rotor, the first at `first`.
[[nodiscard]] std::vector<Place> even_places(int count, Angle first, Length radius);

struct PlaceLimits {
  std::optional<Mass> most; ///< that a place can take
  std::optional<Mass> step; ///< masses come in multiples of this
};

struct Shares {
  std::vector<PlacedMass> masses; ///< those above zero, in the order of the places
  PlacedUnbalance left;           ///< of the wanted unbalance, not reached (steps)
};

/// Most places that are considered; a hub has a dozen.
inline constexpr std::size_t kMostPlaces = 128;

/// Faults (input): no places or more than `kMostPlaces`; a radius, limit or step not above zero;
/// places that cannot reach this direction or this much, with what they can.
[[nodiscard]] Result<Shares> share_out(const PlacedUnbalance& wanted, std::span<const Place> places,
                                       const PlaceLimits& limits = {});

} // namespace whirler::balance
