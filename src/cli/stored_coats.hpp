// The notebook as the commands that look into it find it: where it is, and which coat is meant.
#pragma once

#include "context.hpp"
#include "whirler/notebook/notebook.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

/// The path that --notebook or WHIRLER_NOTEBOOK names, else the default place.
[[nodiscard]] Result<std::string> notebook_path(const Context& context);

/// Opens the notebook of that path, or of the default place where it is empty, to look into it.
/// Fault (input): there is none.
[[nodiscard]] Result<notebook::Notebook> notebook_to_read(const std::string& named);

/// Opens the notebook to look into it. Nothing where the default place has none yet, so that a new
/// user's log is empty and no fault; a fault (input) where a named one is missing.
[[nodiscard]] Result<std::optional<notebook::Notebook>> look_into_notebook(const Context& context);

/// A stored coat: the one of that number, or the newest. Fault (input): there is none.
[[nodiscard]] Result<notebook::Coat> stored_coat(const Context& context,
                                                 std::optional<std::int64_t> number);

/// To the hundredth, as a column: "0.00 s", "61.57 s".
[[nodiscard]] std::string seconds_text(Duration time);

/// "2024-05-01 09:30" in this computer's time zone.
[[nodiscard]] std::string local_time(notebook::Instant instant);
/// "2024-05-01", "2024-05-01 09:30" or "2024-05-01T09:30" in this computer's time zone.
[[nodiscard]] std::optional<notebook::Instant> from_local_time(const std::string& text);

} // namespace whirler::cli
