#include "run_up_of_turns.hpp"

namespace whirler::tach {

std::optional<RunUp> fit_run_up(const MarkedPulses& pulses, std::size_t stretch,
                                const SpinnerModel& model) {
  if (stretch >= pulses.stretches.size())
    return std::nullopt;
  const auto marks = static_cast<std::size_t>(pulses.marks_per_turn);
  return fit_run_up(whole_turns(pulses.stretches[stretch], marks), pulses.tick, marks, model);
}

} // namespace whirler::tach
