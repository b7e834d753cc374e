// What the scales said of a board, as the notebook's notes of the kind "weighing" have it: {"when",
// "mass_g", "typed", "simulated", "with"}. "with" names the pours that were on the plate then,
// where that was known.
#pragma once

#include "context.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/units/quantities.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

inline constexpr const char* kWeighingNote = "weighing";

struct Weighing {
  notebook::Instant at;
  std::string when; ///< "before": the bare plate; "after": dry and coated
  Mass mass;
  std::string typed;                              ///< with the digits that the scales showed
  std::optional<std::vector<std::string>> with{}; ///< uids
};

[[nodiscard]] Json weighing_document(const Weighing& weighing, bool simulated);

/// Of this board, first to last. A simulated board's are not a real one's.
[[nodiscard]] std::vector<Weighing> weighings_of(notebook::Notebook& notebook,
                                                 const std::string& board, bool simulated);

/// Those between which a coat that began then lies: the bare plate's last one before it, and what
/// follows until another bare plate was weighed.
[[nodiscard]] std::vector<Weighing> weighings_about(notebook::Instant started,
                                                    const std::vector<Weighing>& all);

/// The last of the bare plate, or of the coated one; none where there is none.
[[nodiscard]] std::optional<Weighing> last_weighing(const std::vector<Weighing>& all,
                                                    const std::string& when);

/// Whether two figures are the same reading, however many zeros were typed.
[[nodiscard]] bool is_same_reading(Mass one, Mass other);

/// "bare 12.712 g, coated 12.7474 g"; empty where there are none.
[[nodiscard]] std::string weighings_text(const std::vector<Weighing>& weighings);
[[nodiscard]] Json to_json(const std::vector<Weighing>& weighings);

} // namespace whirler::cli
