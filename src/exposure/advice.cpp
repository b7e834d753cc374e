#include "whirler/exposure/advice.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::exposure {

Result<Judgement> judge(Duration given, const Ranged<Duration>& needed) {
  if (!(given.s() > 0.0) || !given.is_finite())
    return input_fault("a past exposure of " + number_text(given.s()) + " s", "",
                       "give the time that was used, as 30s");
  // Strips at least a quarter stop apart, so that a difference can be seen.
  constexpr double kLeastStrip = 1.19;
  Judgement result;
  result.ratio = given / needed.value;
  result.wedge_steps = std::log10(result.ratio) / kUsualStep;
  if (given < needed.low)
    result.verdict = Verdict::under;
  else if (given > needed.high)
    result.verdict = Verdict::over;
  result.within_margin = result.verdict == Verdict::over && result.ratio <= kUsualMargin;
  result.next = needed.value;
  result.next_low = std::min(needed.low, needed.value / kLeastStrip);
  result.next_high = std::max(needed.high, kLeastStrip * needed.value);
  return result;
}

Result<OneForAll> one_for_all(const WorkingCurve& curve, Length thinnest, Length thickest,
                              Irradiance lamp, double latitude) {
  if (!(thinnest < thickest))
    return input_fault("a range from " + number_text(thinnest.um()) + " to " +
                           number_text(thickest.um()) + " um",
                       "", "give the thinnest place first, then the thickest");
  if (!(latitude >= 1.0) || !std::isfinite(latitude))
    return input_fault("a latitude of " + number_text(latitude), "",
                       "give how many times too much light the lines still stand, 1 or more");
  const auto times = [&](Length film) -> Result<Ranged<Duration>> {
    const auto dose = dose_for(curve, film);
    if (!dose)
      return dose.fault();
    return time_for(*dose, lamp);
  };
  const auto thin = times(thinnest);
  if (!thin)
    return thin.fault();
  const auto thick = times(thickest);
  if (!thick)
    return thick.fault();
  const double over = thick->value / thin->value;
  return OneForAll{*thin, *thick, over, over <= latitude};
}

} // namespace whirler::exposure
