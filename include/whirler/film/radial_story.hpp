// The radial run from a label: which flow law, how many cells, where the air turns turbulent. And
// the story of a power-law liquid, which no single radius can tell.
#pragma once

#include "whirler/film/closures_label.hpp"
#include "whirler/film/radial_run.hpp"
#include "whirler/film/thinning_history.hpp"

#include <optional>
#include <span>
#include <vector>

namespace whirler::film::thinning {

/// What of pour and plate makes a film uneven. SI; a screw of 0: none.
struct Uneven {
  double pour_m = 500e-6;    ///< mean over what it covers
  double dome = 1.0;         ///< depth at the centre over that at the edge
  double puddle_share = 1.0; ///< radius covered over the plate's
  double radius_m = 0.05;
  double screw_m = 0.0;
  bool knows_radius = false; ///< else the air is taken as laminar everywhere
};

/// None: no admissible film.
[[nodiscard]] std::optional<RadialStory> radial_story(const Label& label,
                                                      std::span<const Piece> pieces,
                                                      const Uneven& uneven, double accuracy);

/// The mean over the plate between the steps of a radial run; its ends outside.
[[nodiscard]] FilmPoint mean_at(const std::vector<AcrossPoint>& points, double t);

/// As column_story, of the mean over the plate. A puddle or screw is left out of it.
[[nodiscard]] std::optional<ColumnStory> power_story(const Label& label,
                                                     std::span<const Piece> pieces,
                                                     const Uneven& uneven, double accuracy);

/// Radius at which the air over a disc may turn turbulent (Re 1.9e5) and where it surely has (3e5),
/// at this speed [m].
struct TurbulentRadius {
  double from_m = 0.0;
  double sure_m = 0.0;
};
[[nodiscard]] TurbulentRadius turbulent_radius(const Label& label, double omega);

} // namespace whirler::film::thinning
