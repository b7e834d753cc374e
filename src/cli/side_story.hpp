// What became of one side of a board: its pours, each a run; the film that lies on it now.
#pragma once

#include "run_film.hpp"
#include "whirler/session/run_session.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// `kept`: a film of an earlier go of the work was left as it is.
enum class SideState { bare, coated, ended_early, cancelled, kept };
[[nodiscard]] std::string_view state_word(SideState state);

struct SideStory {
  std::string name;
  SideState state = SideState::bare;
  std::vector<Json> runs;           ///< as `run` answers them, each with its film
  std::vector<Pour> pours;          ///< that lie on the plate: those before a washing do not
  std::optional<std::int64_t> coat; ///< of the last pour that lies there
  std::optional<SideFilm> film;     ///< as all of them left it
  Speed spun_at;                    ///< by the last run
  bool whole = false;               ///< the last pour's run came to its end
  std::string how;                  ///< it went: "coated", "broken off"
  std::string resist;               ///< that lies there
  notebook::Instant started;        ///< the last pour's run
  std::size_t earlier = 0;          ///< of the pours: so many lay there before this go of the work
  int status = 0;                   ///< of the last run, as `run` would exit
  Json exposure;                    ///< null where it cannot be told

  /// The side is bare again.
  void clear();
};

/// Whether liquid or film was left on it.
[[nodiscard]] inline bool is_wetted(const SideStory& side) {
  return side.state == SideState::coated || side.state == SideState::ended_early;
}

/// The keys of `run` for the side's last run, with "side", "state", "pours", "film", "exposure" and
/// all of its "runs".
[[nodiscard]] Json to_json(const SideStory& story);

/// What one spin left by itself, whatever lay there before.
[[nodiscard]] std::optional<SideFilm> film_alone(const CoatReading& reading);

/// How the plate ran and what to do about it.
[[nodiscard]] std::vector<std::string> vibration_lines(const tach::Judgement& judged);
/// How the film compares with the one wanted, and what to do. `dries`: whether the liquid does.
[[nodiscard]] std::string film_advice(const SideFilm& film, const std::optional<Length>& wanted,
                                      bool dries);

} // namespace whirler::cli
