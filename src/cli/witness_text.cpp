#include "witness_text.hpp"

#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

/// The text up to the next '@', which is taken away with it.
std::string_view next_part(std::string_view& rest) {
  const auto at = rest.find('@');
  const std::string_view part = rest.substr(0, at);
  rest = at == std::string_view::npos ? std::string_view{} : rest.substr(at + 1);
  return part;
}

} // namespace

Result<film::Known> parse_witness(std::string_view text) {
  std::string_view rest = text;
  const auto thickness = parse<Length>(next_part(rest));
  if (!thickness)
    return thickness.fault();
  if (rest.empty())
    return Fault{FaultKind::command_line, "'" + std::string(text) + "' has no speed", "",
                 "write the board as 1.62um@3000rpm, or 1.62um@3000rpm@22C"};
  const auto speed = parse<Speed>(next_part(rest));
  if (!speed)
    return speed.fault();
  film::Known known{*thickness, *speed, std::nullopt};
  if (rest.empty())
    return known;
  const auto temperature = parse<Temperature>(rest);
  if (!temperature)
    return temperature.fault();
  known.temperature = *temperature;
  return known;
}

Result<Spread> parse_spread(std::string_view text) {
  const auto at = text.find('@');
  if (at == std::string_view::npos)
    return Fault{FaultKind::command_line, "'" + std::string(text) + "' is not a spread", "",
                 "write it as 5s@500rpm"};
  const auto dwell = parse<Duration>(text.substr(0, at));
  if (!dwell)
    return dwell.fault();
  const auto speed = parse<Speed>(text.substr(at + 1));
  if (!speed)
    return speed.fault();
  return Spread{*dwell, *speed};
}

} // namespace whirler::cli
