// What a stored coat says when it is read again: its files, its speed over time, its film.
#pragma once

#include "film_answer.hpp"
#include "pour_record.hpp"
#include "room_options.hpp"
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
  RoomOptions room;                     ///< as it was said at the run
  std::optional<FilmAnswer> film;       ///< of the speed as it was run, of this spin alone
  std::optional<PourRecord> pour;       ///< where `coat` led the work
  std::optional<SideFilm> lying;        ///< this spin's film over those that lay there before it
  tach::SpinnerModel spinner;           ///< with the plate on
  std::optional<tach::Analysis> jitter; ///< none where there are too few pulses
  std::vector<std::string> notes;       ///< what could not be read, and why

  [[nodiscard]] Speed top_speed() const;
  /// Mean speed while the highest was asked for, its first second left out; the top speed where it
  /// was not held so long.
  [[nodiscard]] Speed spun_at() const;
};

/// Without `spinner` and `jitter`: the pulses, most of the work, are left alone.
[[nodiscard]] CoatReading read_coat_film(const notebook::Coat& coat);
/// Without `room`, `film`, `pour` and `lying`.
[[nodiscard]] CoatReading read_coat_jitter(const notebook::Coat& coat);
[[nodiscard]] CoatReading read_coat(const notebook::Coat& coat);

} // namespace whirler::cli
