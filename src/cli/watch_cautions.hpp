// What the watch of a run cannot see on this machine with this profile, said before anything turns.
#pragma once

#include "whirler/machine/machine.hpp"
#include "whirler/profile/timeline.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

/// Nothing where the machine file has no stop limit: then nothing was promised.
[[nodiscard]] std::vector<std::string> watch_cautions(const machine::Machine& machine,
                                                      const profile::Timeline& timeline);

} // namespace whirler::cli
