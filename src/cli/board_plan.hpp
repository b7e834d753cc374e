// A board's job before anything turns: its file and what the command line says otherwise, the speed
// for its film by the code of `speed`, and the profile that follows.
#pragma once

#include "film_answer.hpp"
#include "run_order.hpp"
#include "speed_answer.hpp"
#include "whirler/files/board.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct BoardWords {
  std::string file;   ///< empty: the flags say all
  files::Board given; ///< by flags; what is empty or absent leaves the file's
  bool sides_given = false;
  RunWords run;
};

struct BoardPlan {
  files::Board board;
  RunWords run;                      ///< with profile, files and board filled in
  SpeedQuestion question;            ///< bottle, plate, air
  std::optional<SpeedAnswer> answer; ///< none where the board names its profile
  std::optional<FilmAnswer> by_profile;

  [[nodiscard]] std::optional<film::Coverage> coverage() const;
  [[nodiscard]] const std::vector<std::string>& cautions() const;
  /// "pour 2.1 mL"; "pour" where the volume cannot be told.
  [[nodiscard]] std::string pour_text() const;
};

/// None where `files` has found mistakes. Faults (command_line): something is named neither by the
/// file nor by a flag; (input) the choice's own.
[[nodiscard]] std::optional<Result<BoardPlan>> plan_board(FileLoader& files,
                                                          const BoardWords& words);

void say_plan(const Context& context, const BoardPlan& plan);
[[nodiscard]] Json plan_json(const BoardPlan& plan);

} // namespace whirler::cli
