// A moment of the calendar, as the notebook keeps it. No clock is read here.
#pragma once

#include <compare>
#include <cstdint>
#include <optional>
#include <string>

namespace whirler::notebook {

/// Milliseconds since 1970-01-01T00:00:00Z. The caller reads the clock.
struct Instant {
  std::int64_t unix_ms = 0;
  friend auto operator<=>(const Instant&, const Instant&) = default;
};

/// "2024-05-01T09:30:00.250Z".
[[nodiscard]] std::string instant_text(Instant instant);
/// The same read back; also without the milliseconds. None for anything else.
[[nodiscard]] std::optional<Instant> instant_from_text(const std::string& text);

} // namespace whirler::notebook
