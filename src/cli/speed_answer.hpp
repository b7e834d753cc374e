// What `speed` is asked and what it answers, apart from the words of the command line.
//
// With a label the full model stands behind the speed and the workshop rule beside it; with
// nothing but known boards the rule stands alone. Boards calibrate either.
#pragma once

#include "bottle.hpp"
#include "speed_limits.hpp"
#include "whirler/film/coverage.hpp"
#include "whirler/film/prediction.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

struct SpeedQuestion {
  Length target;
  std::optional<Bottle> bottle;
  Plate plate;
  std::vector<film::Known> known;
  film::Air air;
  film::CoatPlan plan; ///< but for its top speed
};

struct SpeedAnswer {
  film::SpeedChoice choice;
  film::Model model = film::Model::rule;
  Duration dwell;
  std::string dwell_why;
  std::vector<film::SpeedLimit> limits;
  std::optional<Speed> rule_speed;         ///< what the rule alone would choose
  std::optional<film::Estimate> rule_film; ///< what the rule says of the chosen speed
  RuleCheck rule_check;
  std::optional<film::ThinningResult> course; ///< the full model's run at the chosen speed
  std::optional<film::Coverage> coverage;
  std::vector<std::string> warnings;
  std::vector<std::string> cautions;
};

/// Faults (input): nothing said of the liquid; the models', the limits' and the choice's own.
[[nodiscard]] Result<SpeedAnswer> answer_to(const SpeedQuestion& question);

void say_answer(const Context& context, const SpeedQuestion& question, const SpeedAnswer& answer);
[[nodiscard]] Json json_of(const SpeedQuestion& question, const SpeedAnswer& answer);

} // namespace whirler::cli
