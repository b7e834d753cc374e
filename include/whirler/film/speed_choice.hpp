// The speed for a thickness: a curve of film against speed, turned round between the limits of
// plate and machine. Which model stands behind the curve is not known here, so rule, thinning and
// calibration all go through this one door.
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/units/result.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::film {

/// Film at a speed, thinner the faster.
using FilmCurve = std::function<Result<Estimate>(Speed)>;

/// One bound on the speed.
struct SpeedLimit {
  std::string name; ///< a word for JSON: "machine", "balance_grade", ...
  Speed speed;
  bool highest = true; ///< else the lowest
  bool hard = true;    ///< else only warned about
  std::string why;     ///< for people
};

struct SpeedChoice {
  Speed speed;
  Estimate estimate;
  /// The limit that stands in the way first when going faster, or the lowest speed where that one
  /// is nearer; none without limits.
  std::optional<std::size_t> binding;
  std::vector<std::size_t> passed; ///< soft limits that the chosen speed is beyond
};

/// The speeds between which the rule is worth asking: below, gravity and the pour shape the film;
/// above, nobody has published a spin curve.
inline constexpr Speed kSlowest = rpm(100.0);
inline constexpr Speed kFastest = rpm(12000.0);

/// Faults (input): a target not above 0; hard limits that leave no speed; a target that no allowed
/// speed gives (the fault says which limit stops it and what is possible); the curve's own.
[[nodiscard]] Result<SpeedChoice> choose_speed(const FilmCurve& curve, Length target,
                                               std::span<const SpeedLimit> limits);

} // namespace whirler::film
