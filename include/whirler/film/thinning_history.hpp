// The column's history without its types: what set detection and the trace read.
#pragma once

#include "whirler/film/closures_label.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace whirler::film::thinning {

/// The even film at one time. SI.
struct FilmPoint {
  double t = 0.0;
  double dry_m = 0.0;
  double wet_m = 0.0;
  double T_K = 298.15;
};

/// What one coat leaves at one radius. SI.
struct ColumnStory {
  std::vector<FilmPoint> points; ///< evenly in time, and at every kink
  FilmPoint end;
  bool is_set = false;
  std::optional<double> set_s;
  std::optional<double> needed_dwell_s; ///< from reaching the top
  double top_from_s = 0.0;              ///< first time near the highest speed
  double top_until_s = 0.0;             ///< last time there
  double flow_left = 0.0;
  double straight_dry_m = 0.0; ///< had the curve started at its highest speed
  double coldest_K = 298.15;
};

inline constexpr double kNearTop = 0.95;     // share of the highest speed that counts as it
inline constexpr double kSetWindow_s = 60.0; // how far ahead "set" looks
inline constexpr double kSetLoss = 0.01;     // the solids that may still leave in it
inline constexpr double kLongestDwell_s = 3600.0;

/// The first of `times` from which on the film is set until `latest_s`, refined between it and the
/// one before; none where it is not set at `latest_s`. `u_at`: dry film to the power -2 of a coat
/// held at its highest speed, up to 60 s past `latest_s`.
[[nodiscard]] std::optional<double> set_within(double latest_s, std::span<const double> times,
                                               const std::function<double(double)>& u_at);

/// First time near the highest speed.
[[nodiscard]] double first_time_near_top(std::span<const Piece> pieces);

/// Evenly in time, closer in the first tenth, and every kink.
[[nodiscard]] std::vector<double> sample_times(std::span<const Piece> pieces);

/// None: no admissible film (closures that contradict themselves).
[[nodiscard]] std::optional<ColumnStory>
column_story(const Label& label, std::span<const Piece> pieces, double pour_m, double accuracy);

} // namespace whirler::film::thinning
