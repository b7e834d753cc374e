#include "whirler/film/estimate.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film {

std::string_view model_word(Model model) {
  switch (model) {
  case Model::rule:
    return "rule";
  case Model::thinning:
    return "thinning";
  case Model::calibrated:
    return "calibrated";
  }
  return "rule";
}

Estimate estimate(Length middle, double log_deviation, double lean) {
  const double stretch = std::exp(kTwoSided95 * log_deviation);
  return {middle, std::min(1.0, lean) / stretch * middle, std::max(1.0, lean) * stretch * middle};
}

} // namespace whirler::film
