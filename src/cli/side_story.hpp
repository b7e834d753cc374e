// What became of one side of a board: its pours, each a run; the film that lies on it now.
//
// A second pour over a wet film takes that film up: it is the same liquid under fresh solvent, and
// what the last spin leaves is what lies there (a pour from 100 to 1000 um deep moves the film by
// under 2 %, see film/coverage.hpp, and the earlier film adds less than that to it). Over a film
// that has set it may not dissolve in full: then the upper bound grows by the film that lay there.
// Rejected: adding both films, which would be right for a lacquer that cures and for no other.
#pragma once

#include "run_film.hpp"
#include "whirler/session/run_session.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// Film on a side, dry, as it lies there after all pours.
struct SideFilm {
  film::Estimate film;
  bool is_set = false;
};

enum class SideState { bare, coated, ended_early, cancelled };
[[nodiscard]] std::string_view state_word(SideState state);

struct SideStory {
  std::string name;
  SideState state = SideState::bare;
  std::vector<Json> runs; ///< as `run` answers them, each with its film
  int pours = 0;          ///< that lie on the plate: those before a washing do not
  std::optional<SideFilm> film;
  int status = 0; ///< of the last run, as `run` would exit
  Json exposure;  ///< null where it cannot be told
};

/// The film after one more pour over `before`.
[[nodiscard]] std::optional<SideFilm> film_after(const std::optional<SideFilm>& before,
                                                 const std::optional<FilmAnswer>& last);

/// The keys of `run` for the side's last run, with "side", "state", "pours", "film", "exposure" and
/// all of its "runs".
[[nodiscard]] Json to_json(const SideStory& story);

/// How the plate ran and what to do about it: the whole record's verdict where it can be read.
[[nodiscard]] std::vector<std::string> vibration_lines(const CoatReading& reading,
                                                       std::int64_t coat);
/// How the film compares with the one wanted, and what to do. `dries`: whether the liquid does.
[[nodiscard]] std::string film_advice(const SideFilm& film, const std::optional<Length>& wanted,
                                      bool dries);

} // namespace whirler::cli
