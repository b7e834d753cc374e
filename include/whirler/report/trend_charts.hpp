// The charts of many coats side by side, a coat a place on the axis: film, vibration, and what
// measured boards teach of a resist.
//
// Places are the coats' numbers, not their dates: ten boards of one afternoon would share a pixel.
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/report/chart.hpp"
#include "whirler/tach/order_one.hpp"
#include "whirler/units/quantities.hpp"

#include <cstdint>
#include <optional>
#include <span>

namespace whirler::report {

/// The coats of a trend, first to last: one axis for all its charts, so that a coat stands at the
/// same place in each, whatever is known of it.
struct CoatSpan {
  std::int64_t first = 0;
  std::int64_t last = 0;
};

struct FilmOfCoat {
  std::int64_t coat = 0;
  std::optional<Length> wanted;
  std::optional<film::Estimate> estimated; ///< from the speed that was run
  std::optional<Length> measured;
};
[[nodiscard]] Chart film_trend(std::span<const FilmOfCoat> coats, CoatSpan all);

struct JitterOfCoat {
  std::int64_t coat = 0;
  Angle amplitude;
  tach::AngleInterval interval; ///< 95 %
};
[[nodiscard]] Chart jitter_trend(std::span<const JitterOfCoat> coats, CoatSpan all);

struct FactorOfCoat {
  std::int64_t coat = 0;
  double ratio = 1.0;  ///< this coat's measured film over its estimate
  double factor = 1.0; ///< what all measured coats up to this one teach
  double low = 1.0;    ///< of its 95 % interval
  double high = 1.0;
};
[[nodiscard]] Chart factor_trend(std::span<const FactorOfCoat> coats, CoatSpan all);

} // namespace whirler::report
