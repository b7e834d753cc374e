// A step wedge exposed and developed by the user: what each density step left standing.
#pragma once

#include "whirler/units/quantities.hpp"

#include <vector>

namespace whirler::exposure {

struct WedgeStep {
  double density = 0.0; ///< optical density of the step, base 10
  Length left;          ///< film left on it after development
};

struct Wedge {
  Irradiance irradiance;
  Duration time;
  Length film; ///< thickness before development
  std::vector<WedgeStep> steps;
};

} // namespace whirler::exposure
