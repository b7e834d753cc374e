// A board in the notebook: what is noted of it beside its runs.
#pragma once

#include "context.hpp"
#include "whirler/notebook/notebook.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

class BoardNotes {
 public:
  BoardNotes(notebook::Notebook notebook, std::string board, std::string resist)
      : notebook_(std::move(notebook)), board_(std::move(board)), resist_(std::move(resist)) {}

  [[nodiscard]] notebook::Notebook& book() { return notebook_; }
  /// Faults as Notebook::add_note.
  [[nodiscard]] Outcome keep(const std::string& kind, Json document,
                             std::optional<std::int64_t> coat = std::nullopt);

 private:
  notebook::Notebook notebook_;
  std::string board_;
  std::string resist_;
};

} // namespace whirler::cli
