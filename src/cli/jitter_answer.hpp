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

/// The verdict as people say it: "cannot tell".
[[nodiscard]] std::string spoken(tach::Verdict verdict);
/// The same where it leads a line: "CANNOT TELL".
[[nodiscard]] std::string in_capitals(tach::Verdict verdict);

/// Why nothing can be told of a run without a tach, and what to add.
inline constexpr const char* kNoTach =
    "the machine has no tach: a drive's own speed is averaged over many turns and hides what "
    "happens within one; add marks to the hub and a board that counts them (\"tach_port\")";
[[nodiscard]] Json no_tach_json(const std::string& source);

} // namespace whirler::cli
