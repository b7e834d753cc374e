#include "bottle.hpp"

#include "whirler/film/prediction.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>

namespace whirler::cli {

std::string calibration_path(const std::string& resist_path) {
  std::filesystem::path path(resist_path);
  const std::string name =
      path.extension() == ".json" ? path.stem().string() : path.filename().string();
  return path.replace_filename(name + ".calibration.json").string();
}

std::string stored_boards(const std::string& resist_path) {
  const std::string path = resist_path.empty() ? "" : calibration_path(resist_path);
  std::error_code error;
  return !path.empty() && std::filesystem::exists(path, error) ? path : "";
}

std::vector<film::Board> load_boards(FileLoader& files, const std::string& resist_path) {
  const std::string path = stored_boards(resist_path);
  if (path.empty())
    return {};
  const auto loaded = files.load<files::CalibrationFile>(path);
  return loaded ? loaded->value.boards : std::vector<film::Board>{};
}

film::CoatPlan board_plan(const std::optional<machine::Machine>& machine,
                          const std::optional<Duration>& dwell) {
  film::CoatPlan plan;
  plan.ramp = machine ? machine->limits.ramp : kUsualRamp;
  plan.dwell = dwell;
  return plan;
}

Result<RuleCheck> check_rule(const film::Resist& resist, const film::Environment& environment,
                             const film::ThinningResult& course, const film::Estimate& rule) {
  // Half of what rule and full model may differ by on one bottle for reasons of their own, some 30
  // %.
  constexpr double kOtherSpin = 1.15;
  constexpr Duration kShortest = seconds(1.0);
  const Duration set = resist.dries() ? course.needed_dwell.value_or(course.dwell) : course.dwell;
  const Duration held = std::max({set, course.dwell, kShortest});
  const auto straight = film::dry_film(
      resist, {{seconds(0), course.top_speed}, {held, course.top_speed}}, environment);
  if (!straight)
    return straight.fault();
  RuleCheck check;
  check.ratio = *course.dry.mean / *straight;
  const double most = std::min(rule.high / rule.thickness, kOtherSpin);
  const double least = std::max(rule.low / rule.thickness, 1.0 / kOtherSpin);
  check.holds = check.ratio < most && check.ratio > least;
  if (!check.holds)
    check.why = "it knows the top speed alone, held until the film is set, and this spin leaves " +
                number_text(check.ratio, 2) + " times what such a one would" +
                (course.ramp_sets_film ? ": spread and ramp set the film" : "");
  return check;
}

namespace {

/// Rule and full model differ by some 30 % on one bottle (from memory, no source); what is past
/// that is said to be no usual difference.
bool agree(const film::Estimate& rule, const film::Estimate& full) {
  constexpr double kUsual = 1.35;
  return std::abs(std::log(rule.thickness / full.thickness)) <= std::log(kUsual);
}

} // namespace

std::string disagreement_text(const film::Estimate& rule, const film::Estimate& full) {
  if (agree(rule, full))
    return "";
  return "; it DISAGREES with the full model, " + number_text(rule.thickness / full.thickness, 3) +
         " times its " + number_text(full.thickness.um()) + " um: measure a board and calibrate";
}

Json rule_json(const film::Estimate& rule, const RuleCheck& check, const film::Estimate& full) {
  return {{"thickness_um", rounded(rule.thickness.um())},
          {"interval_um", {rounded(rule.low.um()), rounded(rule.high.um())}},
          {"over_full_model", rounded(rule.thickness / full.thickness)},
          {"agrees", agree(rule, full)},
          {"holds", check.holds},
          {"why", check.holds ? Json(nullptr) : Json(check.why)}};
}

void settle_rooms(std::vector<film::Board>& boards, const film::Resist& resist) {
  for (film::Board& board : boards)
    board.spin.temperature = board.spin.temperature.value_or(resist.viscosity_at);
}

Bottle bottle_of(const files::ResistFile& file, std::string path,
                 std::span<const film::Board> measured) {
  Bottle bottle{file.resist, file.wedges, film::witness_boards(file.resist), std::move(path)};
  bottle.boards.insert(bottle.boards.end(), measured.begin(), measured.end());
  settle_rooms(bottle.boards, bottle.resist);
  return bottle;
}

std::optional<Bottle> load_bottle(FileLoader& files, const std::string& path) {
  const auto loaded = files.load<files::ResistFile>(path);
  const std::vector<film::Board> stored = load_boards(files, path);
  return loaded ? std::optional(bottle_of(loaded->value, path, stored)) : std::nullopt;
}

std::vector<std::string> suspect_texts(const film::Calibration& calibration,
                                       std::span<const film::Board> boards) {
  std::vector<std::string> texts;
  for (const film::Suspect& suspect : calibration.suspects) {
    const film::Board& board = boards[suspect.board];
    texts.push_back("board " + std::to_string(suspect.board + 1) + " (" +
                    number_text(board.thickness.um()) + " um at " +
                    number_text(board.spin.speed.rpm(), 4) + " rpm) is " +
                    number_text(std::abs(suspect.deviations), 2) + " standard deviations too " +
                    (suspect.deviations > 0.0 ? "thick" : "thin") +
                    (suspect.left_out ? "; left out" : "; kept: check the reading and its unit"));
  }
  return texts;
}

} // namespace whirler::cli
