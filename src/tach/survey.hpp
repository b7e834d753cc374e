// A record cut into its stretches, each with its turns and its dwells.
#pragma once

#include "dwell_fit.hpp"
#include "dwells.hpp"
#include "turn_rows.hpp"
#include "whirler/tach/marked_pulses.hpp"

#include <memory>
#include <optional>
#include <vector>

namespace whirler::tach {

struct Survey {
  struct Part {
    TurnSlots slots;
    std::size_t marks = 1;
    Duration tick;
    std::vector<Dwell> dwells;
    bool aligned = false; ///< the stretch's first mark is known
    [[nodiscard]] std::size_t turns() const { return slots.turns(marks); }
    [[nodiscard]] TurnBegins begins() const { return {slots.ticks, marks, tick}; }
  };
  MarkedPulses marked; ///< without its stretches, which became the parts
  std::shared_ptr<const TurnBasis> basis;
  std::vector<Part> parts; ///< one a stretch
};

/// Faults (input): as by_mark; no stretch of 4 whole turns.
[[nodiscard]] Result<Survey> survey_of(const PulseTrain& pulses, int marks_per_turn);

/// A dwell of a survey.
struct Place {
  std::size_t part = 0;
  Dwell dwell;
};

/// Fastest dwell of some length (a second or two fifths of the longest, whichever is less), and
/// only those whose speed `like` has too, where it is given.
[[nodiscard]] std::optional<Place> fastest_dwell(const Survey& survey,
                                                 const Survey* like = nullptr);
/// The dwell within 4 % of `speed` (rad/s) that is longest.
[[nodiscard]] std::optional<Place> dwell_at(const Survey& survey, double speed);

} // namespace whirler::tach
