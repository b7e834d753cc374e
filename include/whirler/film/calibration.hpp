// What measured boards teach about one bottle on one machine: a factor on the model's thickness,
// and a shift of its exponent on speed.
//
//   ln(measured) = ln(model) + a - b ln(n/n0) + scatter
//
// a (the factor) and b (the shift) have normal priors: the spread of a model that nobody has
// calibrated, and the spread of published exponents. The scatter of one board against the next is
// normal too, so the posterior is normal and closed (conjugate). One board moves a and leaves b;
// boards at several speeds move both. n0 is the boards' mean speed (of the logarithm), where a and
// b are least entangled.
//
// The scatter starts from a workshop's usual 3 % and grows where the boards show more: a shaky
// workshop must not get a narrow interval by measuring often.
//
// Rejected: least squares through the boards. With one board it has no interval, with two it
// believes any exponent, and with a slip of the pen among five it believes that too.
#pragma once

#include "whirler/film/estimate.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace whirler::film {

/// How a board was coated. What is not known is taken as today's.
struct Spin {
  Speed speed;
  std::optional<Temperature> temperature; ///< of the room
  std::optional<Duration> dwell;          ///< matters for a liquid that does not dry
  std::optional<Ramp> ramp{};             ///< up to speed; matters for a thin resist
  std::optional<Speed> spread_speed{};    ///< of a step before it
  Duration spread_dwell{};

  friend bool operator==(const Spin&, const Spin&) = default;
};

/// A board as it was coated and measured.
struct Board {
  Spin spin;
  Length thickness;
  bool weighed = false; ///< else read by a gauge

  friend bool operator==(const Board&, const Board&) = default;
};

/// The model's thickness, uncalibrated.
using ModelThickness = std::function<Result<Length>(const Spin&)>;

/// A board that does not fit what the others (or, for a lone one, the label) say.
struct Suspect {
  std::size_t board = 0;   ///< its place in the list
  double deviations = 0.0; ///< how far off, in standard deviations of the forecast
  bool left_out = false;   ///< whether the calibration goes without it
};

struct Calibration {
  double log_factor = 0.0;      ///< a
  double exponent_shift = 0.0;  ///< b; the film falls with the model's exponent plus this
  double factor_variance = 0.0; ///< of a
  double shift_variance = 0.0;  ///< of b
  double covariance = 0.0;
  double board_deviation = 0.0; ///< of the logarithm, one board against the next
  Speed pivot;                  ///< n0
  Speed fastest;                ///< the fastest board that was used
  std::size_t used = 0;
  std::vector<Suspect> suspects;

  [[nodiscard]] double factor() const;
  /// 95 % bounds of the factor at the pivot.
  [[nodiscard]] double factor_low() const;
  [[nodiscard]] double factor_high() const;
};

/// Learns from boards. `label_deviation` is the uncalibrated spread (rule.hpp). A board over three
/// standard deviations off the forecast of all others is left out while three or more remain; two
/// that disagree, or a lone one far from the label, are named, and the spread grows to hold them.
/// Faults (input): no board, a speed or thickness not above 0; the model's own.
[[nodiscard]] Result<Calibration> calibrate(std::span<const Board> boards,
                                            const ModelThickness& model, double label_deviation);

/// The next board's film at a speed, from the model's thickness there.
[[nodiscard]] Estimate calibrated(const Calibration& calibration, Length model, Speed speed,
                                  bool dries);

/// Film of a board that was weighed before and after coating and drying: (m1 - m0)/(A rho), the
/// difference in mass of ISO 2808. Never from a nominal board: its thickness alone varies by 8 %.
/// Faults (input): an area or density not above 0, a board that did not gain.
[[nodiscard]] Result<Length> weighed_thickness(Mass before, Mass after, Area area, Density dry);

} // namespace whirler::film
