// What a coat's record says of the pours before it on the same side, and what became of it later.
//
// A second pour over a wet film takes that film up: it is the same liquid under fresh solvent, and
// what the last spin leaves is what lies there (a pour from 100 to 1000 um deep moves the film by
// under 2 %, see film/coverage.hpp, and the earlier film adds less than that to it). Over a film
// that has set it may not dissolve in full: then the upper bound grows by each set film that lay
// there. Rejected: adding the films, which would be right for a lacquer that cures and for no
// other.
//
// The films before are kept with the coat, as they were estimated when it was poured: its page then
// needs no other coat, and is the same in a notebook that has only this one.
#pragma once

#include "context.hpp"
#include "whirler/film/estimate.hpp"
#include "whirler/notebook/note.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

/// Kind of the note that is kept with a coat from its start: {"side", "pour", "over": [{"coat",
/// "started", "film"}]}.
inline constexpr const char* kPourNote = "pour";

/// Dry film on a side.
struct SideFilm {
  film::Estimate film;
  bool is_set = false;
};

/// A pour that lies on the side, with what its own spin left.
struct Pour {
  std::string coat;    ///< its uid
  std::string started; ///< as instant_text writes it
  std::optional<SideFilm> film;
};

struct PourRecord {
  std::string side;
  int pour = 1; ///< counted from the last washing
  std::vector<Pour> over;

  /// Whether a pour before this one is not in the record.
  [[nodiscard]] bool is_partial() const { return static_cast<int>(over.size()) + 1 < pour; }
};

[[nodiscard]] Json to_json(const SideFilm& film);
[[nodiscard]] Json pour_document(const PourRecord& record);
/// None where no note says.
[[nodiscard]] std::optional<PourRecord> pour_record(std::span<const notebook::Note> notes);

/// The film after `last` was spun over those before it; none where `last` is not known.
[[nodiscard]] std::optional<SideFilm> film_over(std::span<const Pour> before,
                                                const std::optional<SideFilm>& last);

/// What was done to a coat's film after its run.
enum class Fate { lies, poured_over, washed_off, cancelled };
/// Kind of the note that says so; empty for `lies`.
[[nodiscard]] std::string fate_kind(Fate fate);
/// The last that the notes say.
[[nodiscard]] Fate fate_of(std::span<const notebook::Note> notes);

} // namespace whirler::cli
