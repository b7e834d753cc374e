#include "trend_reading.hpp"

#include "coat_reading.hpp"
#include "whirler/files/read.hpp"
#include "whirler/film/calibration.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

std::optional<double> number_at(const Json& document, const char* pointer) {
  const Json::json_pointer place(pointer);
  if (!document.contains(place) || !document[place].is_number())
    return std::nullopt;
  const double value = document[place].get<double>();
  return std::isfinite(value) ? std::optional(value) : std::nullopt;
}

/// The figure of the last dwell, as the run reported it.
std::optional<report::JitterOfCoat> jitter_of(const notebook::Coat& coat) {
  if (!coat.end)
    return std::nullopt;
  const Json summary = Json::parse(coat.end->summary, nullptr, false);
  const auto amplitude = number_at(summary, "/jitter/once_per_turn/amplitude_mrad");
  if (!amplitude)
    return std::nullopt;
  const auto low = number_at(summary, "/jitter/once_per_turn/interval_mrad/0");
  const auto high = number_at(summary, "/jitter/once_per_turn/interval_mrad/1");
  return report::JitterOfCoat{
      coat.number,
      milliradians(*amplitude),
      {milliradians(low.value_or(*amplitude)), milliradians(high.value_or(*amplitude))}};
}

/// What its board's file asked for, where the coat kept one.
std::optional<Length> target_of(const notebook::Coat& coat) {
  for (const notebook::KeptFile& file : coat.start.files) {
    if (file.role != "board")
      continue;
    const auto board = files::read_board(file.text, file.name);
    if (board)
      return board->target;
  }
  return std::nullopt;
}

/// Of the logarithm: what the estimate's own interval says of it.
double deviation_of(const film::Estimate& estimate) {
  return std::log(estimate.high / estimate.low) / (2.0 * film::kTwoSided95);
}

} // namespace

TrendCoat trend_of(const notebook::Coat& coat) {
  const CoatReading reading = read_coat_film(coat);
  TrendCoat trend{.number = coat.number,
                  .started = coat.start.started,
                  .board = coat.start.board,
                  .side = coat.start.side,
                  .resist = coat.start.resist,
                  .machine = coat.start.machine,
                  .verdict = coat.end ? coat.end->verdict : "",
                  .top_speed = reading.top_speed(),
                  .thickness = thickness_notes(coat.notes),
                  .estimated = std::nullopt,
                  .jitter = jitter_of(coat)};
  if (!trend.thickness.wanted)
    trend.thickness.wanted = target_of(coat);
  if (reading.film)
    trend.estimated = reading.film->film;
  return trend;
}

std::vector<report::FactorOfCoat> factors_of(std::span<const TrendCoat> coats) {
  // Each coat was estimated from a speed of its own, ramps and all. So a board enters as its ratio
  // to that estimate, on a model that says 1 um at every speed: the equation of calibration.hpp
  // has only the difference of the two logarithms in it.
  std::vector<report::FactorOfCoat> factors;
  std::vector<film::Board> boards;
  for (const TrendCoat& coat : coats) {
    if (!coat.estimated || !coat.thickness.measured || !(coat.top_speed.rpm() > 0.0))
      continue;
    const double ratio = *coat.thickness.measured / coat.estimated->thickness;
    boards.push_back({{coat.top_speed, std::nullopt, std::nullopt}, micrometres(ratio), false});
    const auto learnt = film::calibrate(
        boards, [](const film::Spin&) -> Result<Length> { return micrometres(1.0); },
        deviation_of(*coat.estimated));
    if (learnt)
      factors.push_back(
          {coat.number, ratio, learnt->factor(), learnt->factor_low(), learnt->factor_high()});
  }
  return factors;
}

} // namespace whirler::cli
