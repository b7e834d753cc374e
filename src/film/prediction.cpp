#include "whirler/film/prediction.hpp"

#include <cmath>

namespace whirler::film {
namespace {

/// The base with its own spread, for a bottle that nobody has measured.
FilmCurve label_curve(const BaseModel& base) {
  return [base](Speed speed) -> Result<Estimate> {
    const auto middle = base.thickness({speed, std::nullopt, std::nullopt});
    if (!middle)
      return middle.fault();
    return estimate(*middle, base.deviation, flattening(speed, base.dries));
  };
}

FilmCurve learnt_curve(const BaseModel& base, const Calibration& calibration) {
  return [base, calibration](Speed speed) -> Result<Estimate> {
    const auto middle = base.thickness({speed, std::nullopt, std::nullopt});
    if (!middle)
      return middle.fault();
    return calibrated(calibration, *middle, speed, base.dries);
  };
}

} // namespace

BaseModel rule_model(const Resist& resist, const Conditions& conditions) {
  BaseModel base;
  base.dries = resist.dries();
  base.deviation = label_deviation(resist.dries(), conditions.air.cover);
  base.thickness = [resist, conditions](const Spin& spin) {
    Conditions then = conditions;
    then.air.temperature = spin.temperature.value_or(conditions.air.temperature);
    if (spin.dwell)
      then.dwell = spin.dwell;
    return label_thickness(resist, then, spin.speed);
  };
  return base;
}

Result<Prediction> predict(const BaseModel& base, std::span<const Board> boards) {
  return predict(base, base, boards);
}

Result<Prediction> predict(const BaseModel& base, const BaseModel& judge,
                           std::span<const Board> boards) {
  if (boards.empty())
    return Prediction{label_curve(base), base.word, std::nullopt};
  const auto calibration = calibrate(boards, judge.thickness, base.deviation);
  if (!calibration)
    return calibration.fault();
  return Prediction{learnt_curve(base, *calibration), Model::calibrated, *calibration};
}

Result<BaseModel> thinning_model(const Resist& resist, const CoatPlan& plan,
                                 const Environment& environment) {
  const auto today = FilmOverSpeed::make(resist, plan, environment);
  if (!today)
    return today.fault();
  BaseModel base;
  base.word = Model::thinning;
  base.dries = resist.dries();
  base.deviation = label_deviation(resist.dries(), environment.air.cover);
  base.thickness = [resist, plan, environment, today = *today](const Spin& spin) -> Result<Length> {
    auto film = today.at(spin.speed);
    if (spin.temperature || spin.dwell || spin.ramp || spin.spread_speed) {
      Environment then = environment;
      then.air.temperature = spin.temperature.value_or(environment.air.temperature);
      CoatPlan own = plan;
      own.dwell = spin.dwell ? spin.dwell : plan.dwell;
      own.ramp = spin.ramp.value_or(plan.ramp);
      if (spin.spread_speed) {
        own.spread_speed = spin.spread_speed;
        own.spread_dwell = spin.spread_dwell;
      }
      const auto other = FilmOverSpeed::make(resist, own, then);
      if (!other)
        return other.fault();
      film = other->at(spin.speed);
    }
    if (!film)
      return film.fault();
    return film->thickness;
  };
  return base;
}

BaseModel known_model(const Known& known, const Air& today) {
  BaseModel base;
  base.thickness = [known, today](const Spin& spin) -> Result<Length> {
    Air then = today;
    then.temperature = spin.temperature.value_or(today.temperature);
    const auto film = known_estimate(known, then, spin.speed);
    if (!film)
      return film.fault();
    return film->thickness;
  };
  return base;
}

std::vector<Board> witness_boards(const Resist& resist) {
  std::vector<Board> boards;
  for (const Witness& witness : resist.witnesses)
    boards.push_back({{witness.speed, {}, {}}, witness.thickness});
  return boards;
}

Result<double> exponent_at(const Prediction& prediction, Speed speed) {
  constexpr double kStep = 1.02;
  const auto faster = prediction.curve(kStep * speed);
  if (!faster)
    return faster.fault();
  const auto slower = prediction.curve(speed / kStep);
  if (!slower)
    return slower.fault();
  return std::log(slower->thickness / faster->thickness) / (2.0 * std::log(kStep));
}

} // namespace whirler::film
