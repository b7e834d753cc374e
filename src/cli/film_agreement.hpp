// What a 95 % interval of one film over another says of them, and which measurement is none.
//
//   0.8          1         1.25      film over the other
//    |           |           |
//    |  |-----|  |           |       thinner: an equal film is excluded
//    |       |---+----|      |       agree: more than a quarter apart is excluded
//  |-------------+-------------|     neither: it cannot be told
//
// The quarter is what a workshop takes for the same film [common practice, no source].
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/units/result.hpp"

#include <optional>

namespace whirler::cli {

struct FilmRatio {
  double low = 0.0; ///< 95 %
  double high = 0.0;

  [[nodiscard]] bool is_thinner() const { return high < 1.0; }
  [[nodiscard]] bool is_thicker() const { return low > 1.0; }
  [[nodiscard]] bool agrees() const { return low >= 1.0 / 1.25 && high <= 1.25; }
};
[[nodiscard]] FilmRatio ratio_of(const film::Estimate& film, Length other);

/// Fault (input): no film that anybody spins, with those that are.
[[nodiscard]] Outcome check_spun_film(Length film);
/// Why a measured film cannot well be this coat's: it is five times past an end of the estimate's
/// interval, which is a slip of the unit or of the scales sooner than a film.
[[nodiscard]] std::optional<Fault> doubt_of(Length measured, const film::Estimate& estimate);

} // namespace whirler::cli
