// The once-per-turn vector over the whole of a record, a few turns at a time, for drawings.
#pragma once

#include "survey.hpp"
#include "whirler/tach/recording.hpp"

#include <vector>

namespace whirler::tach {

[[nodiscard]] std::vector<TracePoint> trace_of(const Survey& survey);

} // namespace whirler::tach
