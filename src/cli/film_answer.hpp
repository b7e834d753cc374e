// What `film` is asked and what it answers, apart from the words of the command line: the full
// model over the profile as written, calibrated by the bottle's boards, the workshop rule beside
// it.
#pragma once

#include "bottle.hpp"
#include "plate_input.hpp"
#include "whirler/film/coverage.hpp"
#include "whirler/film/prediction.hpp"
#include "whirler/film/thinning.hpp"
#include "whirler/profile/timeline.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

struct FilmQuestion {
  profile::Timeline timeline;
  Bottle bottle;
  Plate plate;
  film::Air air;
  std::optional<Volume> volume;
  std::optional<Length> screw; ///< radius of what covers the centre
  bool back_covered = false;
};

struct FilmAnswer {
  film::ThinningResult course; ///< as modelled; the factor is not in it
  film::Estimate film;         ///< dry, mean over the plate, calibrated where boards were measured
  film::Model model = film::Model::thinning;
  double factor = 1.0; ///< film over the modelled one
  std::optional<film::Estimate> rule;
  RuleCheck rule_check;
  std::optional<film::Coverage> coverage;
  std::vector<std::string> warnings;
  std::vector<std::string> cautions;
};

/// Faults (input): a volume without a blank; the models' own.
[[nodiscard]] Result<FilmAnswer> answer_to(const FilmQuestion& question);

/// The course with its films as the boards teach: times the factor.
[[nodiscard]] film::ThinningResult taught_course(const FilmAnswer& answer);

void say_answer(const Context& context, const FilmQuestion& question, const FilmAnswer& answer);
[[nodiscard]] Json json_of(const FilmQuestion& question, const FilmAnswer& answer);

} // namespace whirler::cli
