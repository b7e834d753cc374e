// The answer of `jitter`: as JSON, and in words.
#pragma once

#include "context.hpp"
#include "whirler/tach/recording.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

[[nodiscard]] Json jitter_json(const tach::Analysis& analysis, const tach::SpinnerModel& model,
                               const std::string& source);

[[nodiscard]] std::vector<std::string> jitter_lines(const tach::Analysis& analysis,
                                                    const tach::SpinnerModel& model);

} // namespace whirler::cli
