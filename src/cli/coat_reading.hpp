// What a stored coat says when it is read again: its files, its speed over time, its film.
#pragma once

#include "whirler/blank/properties.hpp"
#include "whirler/film/estimate.hpp"
#include "whirler/film/thinning.hpp"
#include "whirler/machine/machine.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/profile/profile.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

struct FilmReading {
  film::ThinningResult result;
  film::Estimate dry;
  film::Model model = film::Model::thinning;
};

struct CoatReading {
  std::optional<profile::Profile> profile;
  std::optional<machine::Machine> machine;
  std::optional<film::Resist> resist;
  std::optional<blank::Blank> blank;
  std::optional<blank::Properties> plate;
  SpeedCurve run;   ///< as the tach showed it
  SpeedCurve asked; ///< of the drive
  std::optional<FilmReading> film;
  std::vector<std::string> notes; ///< what could not be read, and why

  [[nodiscard]] Speed top_speed() const;
};

/// The curve with no more knots than it takes to stay within `tolerance` of it everywhere: a record
/// of ten reports a second becomes a few dozen straight pieces for the film's integration.
[[nodiscard]] SpeedCurve simplified(const SpeedCurve& curve, Speed tolerance);

[[nodiscard]] CoatReading read_coat(const notebook::Coat& coat);

} // namespace whirler::cli
