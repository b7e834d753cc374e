// The search for causes in a record that has been analysed; see findings.hpp for what shows each.
#pragma once

#include "mark_pattern.hpp"
#include "survey.hpp"
#include "whirler/tach/recording.hpp"

#include <string>
#include <vector>

namespace whirler::tach {

struct CauseSearch {
  const Recording& recording;
  const Survey& survey;
  const Place& place;
  const DwellFit& fit; ///< of that place
  const MarkPattern& pattern;
  const Analysis& analysis; ///< all of it but the findings
};

/// "0.52 mrad"
[[nodiscard]] std::string mrad(double rad);

[[nodiscard]] std::vector<Finding> find_causes(const CauseSearch& search);

} // namespace whirler::tach
