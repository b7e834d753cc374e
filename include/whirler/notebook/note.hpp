// What was measured or settled beside the runs: a board weighed before and after, a thickness from
// a gauge, a resist calibrated, seconds under the lamp.
//
// One kind of row for all of them, a JSON document in each: what a board's life consists of grows
// with every command that learns something new, and a table a kind would be a migration each time.
// What is searched by (kind, board, coat, resist) stands in columns.
#pragma once

#include "whirler/notebook/instant.hpp"

#include <cstdint>
#include <optional>
#include <string>

namespace whirler::notebook {

struct Note {
  Instant at{};
  std::string kind{};                 ///< "weighing", "thickness", "calibration", "exposure", …
  std::string board{};                ///< empty where it is about none
  std::optional<std::int64_t> coat{}; ///< the number of the coat that it is about
  std::string resist{};
  std::string document{}; ///< JSON, its keys with their units
  friend bool operator==(const Note&, const Note&) = default;
};

/// Which notes: an empty text, or no number, asks for all.
struct NoteFilter {
  std::string kind{};   ///< the whole word
  std::string board{};  ///< the whole name
  std::string resist{}; ///< the whole name
  std::optional<std::int64_t> coat{};
};

} // namespace whirler::notebook
