// What a run in progress could not tell of its plate, and what to add, in few words.
#pragma once

#include "whirler/tach/spinner_model.hpp"
#include "whirler/tach/verdict.hpp"

#include <string>

namespace whirler::tach {

/// Where marks and plate are not told apart: by one speed only, or by a ramp that showed too little
/// of the mount.
[[nodiscard]] std::string marks_and_plate(const SpinnerModel& model, bool speeds_differ);
/// The verdict in a sentence: what it rests on, and what would settle one that cannot tell.
[[nodiscard]] std::string said_of(const Judgement& judgement, const SpinnerModel& model,
                                  bool has_baseline);

} // namespace whirler::tach
