// What a stored coat says when it is read again: its files, its speed over time, its film.
#pragma once

#include "film_answer.hpp"
#include "whirler/blank/properties.hpp"
#include "whirler/exposure/wedge.hpp"
#include "whirler/machine/machine.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/profile/profile.hpp"
#include "whirler/tach/recording.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// Kind of the note that keeps a run's room: {"temperature_C", "humidity"}, either where it was
/// said.
inline constexpr const char* kRoomNote = "room";

struct CoatReading {
  std::optional<profile::Profile> profile;
  std::optional<machine::Machine> machine;
  std::optional<Bottle> bottle; ///< with the boards that its own file names
  std::optional<blank::Blank> blank;
  std::optional<blank::Properties> plate;
  SpeedCurve run;                       ///< as the tach showed it
  SpeedCurve asked;                     ///< of the drive
  std::optional<FilmAnswer> film;       ///< of the speed as it was run
  tach::SpinnerModel spinner;           ///< with the plate on
  std::optional<tach::Analysis> jitter; ///< none where there are too few pulses
  std::vector<std::string> notes;       ///< what could not be read, and why

  [[nodiscard]] Speed top_speed() const;
};

/// Without `spinner` and `jitter`: the pulses, most of the work, are left alone.
[[nodiscard]] CoatReading read_coat_film(const notebook::Coat& coat);
[[nodiscard]] CoatReading read_coat(const notebook::Coat& coat);

} // namespace whirler::cli
