// From a label and whatever boards were measured to a curve of film against speed: the one place
// where model and calibration meet, so that every command says the same of the same bottle.
#pragma once

#include "whirler/film/calibration.hpp"
#include "whirler/film/estimate.hpp"
#include "whirler/film/inverse.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/film/rule.hpp"
#include "whirler/film/speed_choice.hpp"

#include <optional>
#include <span>
#include <vector>

namespace whirler::film {

/// A model of the label, and how far it may be off before any board was measured.
struct BaseModel {
  ModelThickness thickness;
  Model word = Model::rule;
  double deviation = kLabelDeviation; ///< of the logarithm
  bool dries = true;
};

/// The workshop rule as a base.
[[nodiscard]] BaseModel rule_model(const Resist& resist, const Conditions& conditions);

/// The full model as a base: every film by the plan's spread and ramp to its speed, dwelt as the
/// plan says or until set. What a board's own spin says of these goes before the plan; what it does
/// not say goes into the factor. Faults as `FilmOverSpeed::make`.
[[nodiscard]] Result<BaseModel> thinning_model(const Resist& resist, const CoatPlan& plan,
                                               const Environment& environment);

/// The half power through one known board, for a liquid whose label is not known: a base to learn
/// from several such boards.
[[nodiscard]] BaseModel known_model(const Known& known, const Air& today);

/// A curve with the word for what stands behind it.
struct Prediction {
  FilmCurve curve;
  Model model = Model::rule;
  std::optional<Calibration> calibration; ///< where boards were measured
};

/// The base alone without boards, calibrated with them. Faults as `calibrate`.
[[nodiscard]] Result<Prediction> predict(const BaseModel& base, std::span<const Board> boards);

/// The same where the boards were coated by another plan than the one asked about: `judge` says
/// what the label foresaw of them, `base` of the plan.
[[nodiscard]] Result<Prediction> predict(const BaseModel& base, const BaseModel& judge,
                                         std::span<const Board> boards);

/// The label's witnesses as boards; their room's temperature is not known.
[[nodiscard]] std::vector<Board> witness_boards(const Resist& resist);

/// How fast the prediction falls with speed around `speed`: -d ln h/d ln n.
[[nodiscard]] Result<double> exponent_at(const Prediction& prediction, Speed speed);

} // namespace whirler::film
