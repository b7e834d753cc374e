#include "trend_reading.hpp"

#include "coat_reading.hpp"
#include "whirler/files/read.hpp"
#include "whirler/film/calibration.hpp"

#include <algorithm>
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

/// The figure that the run reported.
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

bool teaches(const TrendCoat& coat) {
  return coat.estimated && coat.thickness.measured && coat.pour == 1 && coat.top_speed.rpm() > 0.0;
}

/// The estimate that a measurement stands against: of this coat, or the mean of those that were
/// weighed with it. None where it is not the last of them, or one of them cannot teach.
std::optional<Length> estimate_measured(std::span<const TrendCoat> coats, const TrendCoat& coat) {
  const auto& together = coat.thickness.together;
  if (together.size() < 2)
    return coat.estimated->thickness;
  Length sum;
  double count = 0.0;
  const TrendCoat* last = nullptr;
  for (const TrendCoat& other : coats) {
    if (std::count(together.begin(), together.end(), other.uid) == 0)
      continue;
    if (!teaches(other))
      return std::nullopt;
    sum += other.estimated->thickness;
    count += 1.0;
    last = &other;
  }
  return last == &coat ? std::optional(sum / count) : std::nullopt;
}

} // namespace

TrendCoat trend_of(const notebook::Coat& coat) {
  const CoatReading reading = read_coat_film(coat);
  TrendCoat trend{.number = coat.number,
                  .uid = coat.uid,
                  .started = coat.start.started,
                  .board = coat.start.board,
                  .side = coat.start.side,
                  .resist = coat.start.resist,
                  .machine = coat.start.machine,
                  .verdict = coat.end ? coat.end->verdict : "",
                  .top_speed = reading.top_speed(),
                  .pour = reading.pour ? reading.pour->pour : 1,
                  .fate = fate_of(coat.notes),
                  .thickness = thickness_notes(coat.notes),
                  .estimated = std::nullopt,
                  .jitter = jitter_of(coat)};
  if (!trend.thickness.wanted)
    trend.thickness.wanted = target_of(coat);
  if (reading.lying && trend.fate == Fate::lies)
    trend.estimated = reading.lying->film;
  return trend;
}

std::vector<report::FactorOfCoat> factors_of(std::span<const TrendCoat> coats) {
  // Each coat was estimated from a speed of its own, ramps and all. So a board enters as its ratio
  // to that estimate, on a model that says 1 um at every speed: the equation of calibration.hpp
  // has only the difference of the two logarithms in it.
  std::vector<report::FactorOfCoat> factors;
  std::vector<film::Board> boards;
  for (const TrendCoat& coat : coats) {
    const auto estimated = teaches(coat) ? estimate_measured(coats, coat) : std::nullopt;
    if (!estimated)
      continue;
    const double ratio = *coat.thickness.measured / *estimated;
    boards.push_back({{coat.top_speed, std::nullopt, std::nullopt},
                      micrometres(ratio),
                      !coat.thickness.together.empty()});
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
