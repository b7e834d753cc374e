// The exact fit of one stretch of turns, with everything that is asked of it afterwards.
#pragma once

#include "elimination.hpp"
#include "turn_rows.hpp"
#include "whirler/tach/order_one.hpp"

#include <vector>

namespace whirler::tach {

/// The vector of a block of turns, independent of that of any other block.
struct BlockVector {
  OnceVector vector;
  OnceCovariance covariance; ///< for unit noise
  std::size_t turns = 0;
};

struct DwellFit {
  BorderSolution solution; ///< pattern by order, in the transform's scale
  double noise = 0.0;      ///< standard deviation of one pulse, rad
  double degrees_of_freedom = 0.0;
  double scatter = 1.0;         ///< covariance is this much larger than white noise explains
  double scatter_freedom = 0.0; ///< degrees of freedom behind it, 0 where it is 1
  std::vector<BlockVector> blocks;
  std::size_t turns = 0;
  Duration length;
  Duration tick;
  std::vector<FilledMark> filled;
  /// By mark: mean over the turns of what the rows do not hold (orders beyond them), rad.
  std::vector<double> beyond_rows;
  std::size_t outliers = 0;
};

/// Turns [from, to) of the slots. Bad time stamps are taken out (and counted) and the fit redone;
/// `slots` is mended in place. At least 4 turns.
[[nodiscard]] DwellFit fit_dwell(const TurnBasis& basis, TurnSlots& slots, Duration tick,
                                 std::size_t from, std::size_t to);

/// The same fit of rows that are made already, of all turns but those left out.
[[nodiscard]] DwellFit fit_rows(const TurnBasis& basis, const TurnRows& rows,
                                const std::vector<bool>& left_out);

/// The figure of such a fit; `counts` are left to the caller.
[[nodiscard]] OrderOne figure_of(const DwellFit& fit, const TurnBasis& basis);

} // namespace whirler::tach
