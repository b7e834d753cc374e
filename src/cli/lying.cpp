#include "lying.hpp"

#include "pour_record.hpp"

#include <algorithm>

namespace whirler::cli {

Duration since(notebook::Instant then, notebook::Instant now) {
  return milliseconds(static_cast<double>(std::max<std::int64_t>(0, now.unix_ms - then.unix_ms)));
}

std::optional<Duration> lying_for(const notebook::CoatLine& line, notebook::Instant now) {
  if (line.simulated || line.resist.empty() || line.state == notebook::CoatState::running ||
      !line.fate.empty())
    return std::nullopt;
  return since(line.started, now);
}

std::optional<Duration> lying_for(const notebook::Coat& coat, notebook::Instant now) {
  notebook::CoatLine line;
  line.started = coat.start.started;
  line.resist = coat.start.resist;
  line.simulated = coat.start.simulated;
  line.state = coat.state;
  line.fate = fate_kind(fate_of(coat.notes));
  return lying_for(line, now);
}

std::string age_text(Duration age) {
  const auto s = static_cast<std::int64_t>(age.s());
  if (s < 60)
    return std::to_string(s) + " s";
  if (s < 3600)
    return std::to_string(s / 60) + " min";
  if (s < 86400)
    return std::to_string(s / 3600) + " h " + std::to_string(s % 3600 / 60) + " min";
  return std::to_string(s / 86400) + " d " + std::to_string(s % 86400 / 3600) + " h";
}

} // namespace whirler::cli
