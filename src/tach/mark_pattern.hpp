// The marks' own pattern, mark by mark, and how the patterns of two records lie on each other.
#pragma once

#include "dwell_fit.hpp"

#include <complex>
#include <string>
#include <vector>

namespace whirler::tach {

struct MarkPattern {
  std::vector<double> late; ///< rad, by mark; mean zero
  double sd = 0.0;          ///< of each, rad
};
[[nodiscard]] MarkPattern pattern_of(const DwellFit& fit, const TurnBasis& basis);

/// Vectors of the orders 0 to N/2 in the convention of D.
[[nodiscard]] std::vector<std::complex<double>> orders_of(const MarkPattern& pattern);

/// Shifts s for which mark k of `run` may be mark k + s of `base`: those that explain all orders
/// but the first as well as the best one does. All of them for even marks, and for three.
[[nodiscard]] std::vector<std::size_t> possible_shifts(const MarkPattern& run,
                                                       const MarkPattern& base);

/// Why `base` is not of the marks of `run`, in words; empty where it may be. Order 1 is left out,
/// which a plate changes: the others are the marks' alone, but for cogging, so it takes a third
/// of what they are, or a turn of the index that fits. `numbered`: mark k of one is mark k of the
/// other.
[[nodiscard]] std::string other_marks(const MarkPattern& run, const MarkPattern& base,
                                      bool numbered);

/// The pattern is its own index: no turn of it by whole marks looks the same.
[[nodiscard]] bool is_its_own_index(const MarkPattern& pattern);

} // namespace whirler::tach
