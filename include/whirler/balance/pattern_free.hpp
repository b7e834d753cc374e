// Balancing by trial mass where the marks' own pattern is not known, only that it is the same at
// every speed: readings at three speeds or more, in both runs.
//
//   Z0(k) = P + Q/omega_k + S_k U        Z1(k) - Z0(k) = S_k T
//
// The second line gives each speed's influence whatever the pattern is. The first is then a small
// least-squares problem for the pattern P, the unbalance U, and Q, what the speed loop makes of the
// pattern: a loop that steers by uneven marks pushes and pulls once per turn, which moves the
// rotor's angle by less and less as it runs faster. No model of the mount is needed.
//
// The speeds must differ in S: best some below and some above the mount's natural speed, where S
// changes sign. Rejected: taking the slowest reading for the pattern. At a slow speed the loop's
// own doing is in it, and on the simulated spinner it was larger than the unbalance.
#pragma once

#include "whirler/balance/influence.hpp"

namespace whirler::balance {

/// Both readings of one speed, pattern and all.
struct SpeedPair {
  Speed speed;
  Reading before;
  Reading with_trial;
  double sigma = 0.0; ///< standard deviation of either component of either reading
};

struct PatternFree {
  Correction correction;
  Reading pattern;              ///< P
  Reading loop;                 ///< Q over the slowest of the speeds
  std::vector<SpeedPair> pairs; ///< as read; sigmas times what the fit leaves over them, if more
  PlacedMass trial;
};

/// Spread: by the readings' sigmas, or what the fit leaves where that is more (four speeds or more
/// can tell), or that of published trials where that is larger. A rotor that
/// needs no mass is answered like any other: `correction.shown` is false, and `at_most` bounds what
/// it may have.
/// Faults (input): fewer than three speeds; a speed, sigma, mass or radius not above zero; a
/// reading that is not finite; a trial that changed so little that any unbalance would fit, with
/// the trial that would do; speeds too much alike to tell pattern from unbalance.
[[nodiscard]] Result<PatternFree> correct_free_of_pattern(std::span<const SpeedPair> pairs,
                                                          const PlacedMass& trial, Length radius);

/// Where the trial changed the readings too little to tell the unbalance: one that would do. None
/// where it was heavy enough, or where no trial would do.
[[nodiscard]] std::optional<Mass> trial_that_would_do(std::span<const SpeedPair> pairs,
                                                      const PlacedMass& trial);

/// The unbalance that a further run shows.
struct UnbalanceNow {
  PlacedUnbalance unbalance;
  Unbalance bound_95; ///< its error's size stays below this 95 times in 100
};

/// The unbalance of the same rotor from a further run's readings at the same speeds, in their
/// order: what a correction has left. Pattern and loop are fitted anew to the run before and this
/// one together: what the first fit got wrong of them is in the correction, and a reading held
/// against that fit alone would find nothing left, whatever is there.
/// Faults (input): not as many readings as speeds.
[[nodiscard]] Result<UnbalanceNow> unbalance_now(const PatternFree& found,
                                                 std::span<const Reading> readings);

} // namespace whirler::balance
