#include "scales.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {

Mass last_digit(std::string_view text) {
  const auto unit = text.find_first_not_of("0123456789.+- ");
  const auto point = text.find('.');
  const auto one = parse<Mass>("1" + std::string(text.substr(std::min(unit, text.size()))));
  if (!one)
    return {};
  const auto digits = point < unit ? text.substr(point + 1, unit - point - 1) : std::string_view{};
  const auto decimals =
      std::count_if(digits.begin(), digits.end(), [](char c) { return c >= '0' && c <= '9'; });
  return std::pow(10.0, -static_cast<double>(decimals)) * *one;
}

double unsure_share(Mass digit, Mass between) {
  // A reading is good to half its last digit: two even spreads of 1/sqrt(12), twice the deviation.
  constexpr double kBoth95 = 0.8;
  return kBoth95 * (digit / between);
}

std::optional<std::string> coarse_scales(Mass digit, Mass between) {
  constexpr double kAllowed = 0.05;
  const double share = unsure_share(digit, between);
  if (!(share > kAllowed))
    return std::nullopt;
  return "the scales' last digit alone leaves the film unsure by " + number_text(100.0 * share, 2) +
         " %, which the interval does not know: weigh on finer scales, or a larger board";
}

} // namespace whirler::cli
