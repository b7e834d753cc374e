// Which films lie on a board's plate, whoever put them there and when: what the scales say is
// divided over those of them that came after the bare plate was weighed, and over no other.
//
// The newest coat of a side tells: its film lies there, over those that its record names, unless it
// was washed off. A side that was given up after its run still bears what the run left.
#pragma once

#include "side_story.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/units/result.hpp"

#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

/// A coat that some program writes now.
struct RunningCoat {
  std::int64_t coat = 0;
  std::string side;
};

struct BoardFilms {
  std::vector<SideStory> lying; ///< a story a side that bears a film, the newest first
  std::vector<RunningCoat> running;
};

/// Of this board, by its whole name. A simulation coats no real board: each is among its own kind.
[[nodiscard]] BoardFilms films_of(notebook::Notebook& notebook, const std::string& board,
                                  bool simulated);
/// The coats of this board that are being written: little to read, before every run.
[[nodiscard]] std::vector<RunningCoat> running_coats(notebook::Notebook& notebook,
                                                     const std::string& board, bool simulated);

/// "coated 3 h 20 min ago (coat 12)".
[[nodiscard]] std::string film_age(const SideStory& side, notebook::Instant now);

/// The films of these sides that were put on after a weighing at which the pours `with` were on the
/// plate, each as a coated side. Faults (input): what an early end left was weighed too; a film
/// lies over one that was weighed with the plate, or that one is gone; another resist; none, or
/// more than a plate has sides.
[[nodiscard]] Result<std::vector<SideStory>> films_gained(std::span<const SideStory> sides,
                                                          const std::vector<std::string>& with,
                                                          const std::string& resist);

/// Why films spun so cannot be one lesson: their speeds differ.
[[nodiscard]] bool spun_alike(std::span<const SideStory> sides);

} // namespace whirler::cli
