// What a coat's notes say of its film: what was wanted, and what a gauge read afterwards.
//
// Both are notes of the kind "thickness", with the keys "wanted_um" and "measured_um" in their
// document; a film that the scales told has "how": "weighed" too, and in "together" the uids of the
// coats whose mean it is. A later note takes the place of an earlier one, which stays in the
// notebook: a slip of the pen is put right without being hidden.
#pragma once

#include "context.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/units/quantities.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

inline constexpr const char* kThicknessNote = "thickness";

struct ThicknessNotes {
  std::optional<Length> wanted{};
  std::optional<Length> measured{};
  std::vector<std::string> together{}; ///< uids; empty for what a gauge read on this coat alone
};

/// The last of each; none where no note says, or says no thickness above zero.
[[nodiscard]] ThicknessNotes thickness_notes(std::span<const notebook::Note> notes);

/// The document of a note of the kind "thickness".
[[nodiscard]] Json thickness_document(const ThicknessNotes& thickness);

/// "measured 1.58 um", "measured 1.58 um by weight, the mean of 2 sides"; empty where it was not.
[[nodiscard]] std::string measured_text(const ThicknessNotes& thickness);

/// For people: "wanted 1.6 um, measured 1.58 um"; the document itself where it is another's.
[[nodiscard]] std::string note_text(const notebook::Note& note);

} // namespace whirler::cli
