// A resist file together with the boards that were measured with it.
//
// Boards are kept in a file of their own beside the resist, amber.json and amber.calibration.json.
// Why not in the resist file: its comments, order and layout are its owner's, and no writer of JSON
// keeps them; a label can be shared or read-only while the boards belong to one machine and gauge;
// and to start over one deletes a file. Boards are stored, not the factor that they teach, so that
// a better model relearns from them.
#pragma once

#include "load.hpp"
#include "whirler/exposure/wedge.hpp"
#include "whirler/film/calibration.hpp"
#include "whirler/film/inverse.hpp"
#include "whirler/machine/machine.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

struct Bottle {
  film::Resist resist;
  std::vector<exposure::Wedge> wedges;
  std::vector<film::Board> boards; ///< the file's witnesses first, then the calibration's
  std::string path;
};

/// Up to speed where neither line nor machine says: the measured boards' own ramps are not known,
/// and published spin curves are of ramps so steep that they do not show. [common practice, no
/// source]
inline constexpr Ramp kUsualRamp = rpm_per_s(3000.0);

/// How measured boards are taken to have been coated where they do not say: straight up. A spread
/// or a gentler ramp that is asked about is no news of the boards.
[[nodiscard]] film::CoatPlan board_plan(const std::optional<machine::Machine>& machine,
                                        const std::optional<Duration>& dwell);

/// Whether the workshop rule may be offered beside the full model: it knows the top speed alone,
/// held until the film is set. `ratio`: the model's film over that of such a spin.
struct RuleCheck {
  bool holds = true;
  double ratio = 1.0;
  std::string why; ///< where it does not hold
};
/// It holds where its own interval takes the ratio up. Faults as `film::dry_film`.
[[nodiscard]] Result<RuleCheck> check_rule(const film::Resist& resist,
                                           const film::Environment& environment,
                                           const film::ThinningResult& course,
                                           const film::Estimate& rule);
/// "rule" of a JSON answer; its keys "holds" and "why", and how it stands to the full model's film.
[[nodiscard]] Json rule_json(const film::Estimate& rule, const RuleCheck& check,
                             const film::Estimate& full);
/// Empty where rule and full model are as near as the two usually are on one bottle; else, to stand
/// behind the rule's film, that they are not.
[[nodiscard]] std::string disagreement_text(const film::Estimate& rule, const film::Estimate& full);

/// Beside the resist file, ".json" replaced by ".calibration.json".
[[nodiscard]] std::string calibration_path(const std::string& resist_path);

/// The same where there is such a file, else empty.
[[nodiscard]] std::string stored_boards(const std::string& resist_path);

/// The boards stored beside a resist; none where there is no such file. Mistakes go to `files`.
[[nodiscard]] std::vector<film::Board> load_boards(FileLoader& files,
                                                   const std::string& resist_path);

/// Boards whose room nobody told were coated in one as warm as the label's figures: taken as coated
/// in today's, each new room would teach another bottle.
void settle_rooms(std::vector<film::Board>& boards, const film::Resist& resist);
/// A bottle with its file's witnesses, then the boards measured since.
[[nodiscard]] Bottle bottle_of(const files::ResistFile& file, std::string path,
                               std::span<const film::Board> measured);

/// None where a file cannot be read; its mistakes are with `files`.
[[nodiscard]] std::optional<Bottle> load_bottle(FileLoader& files, const std::string& path);

/// "board 2 (1.4 um at 4000 rpm) is 5.1 standard deviations thicker than the others say".
[[nodiscard]] std::vector<std::string> suspect_texts(const film::Calibration& calibration,
                                                     std::span<const film::Board> boards);

} // namespace whirler::cli
