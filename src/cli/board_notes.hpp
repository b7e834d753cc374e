// A board in the notebook: what is noted of it beside its runs, and how long it has been lying.
#pragma once

#include "context.hpp"
#include "whirler/notebook/notebook.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

class BoardNotes {
 public:
  BoardNotes(notebook::Notebook notebook, std::string board, std::string resist)
      : notebook_(std::move(notebook)), board_(std::move(board)), resist_(std::move(resist)) {}

  [[nodiscard]] notebook::Notebook& book() { return notebook_; }
  /// Faults as Notebook::add_note.
  [[nodiscard]] Outcome keep(const std::string& kind, Json document,
                             std::optional<std::int64_t> coat = std::nullopt);
  /// "counter side: coated 3 h 20 min ago (coat 12)", the newest coat of each of its sides but for
  /// one that was washed off. A simulation coats no board: it is named among its own kind alone.
  [[nodiscard]] std::vector<std::string> lying(notebook::Instant now, bool simulated) const;

 private:
  mutable notebook::Notebook notebook_; ///< reading it is no change that a caller sees
  std::string board_;
  std::string resist_;
};

} // namespace whirler::cli
