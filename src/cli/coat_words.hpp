// What `coat` is told on its command line: the board, and answers to questions ahead of them.
#pragma once

#include "board_plan.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

struct CoatWords {
  BoardWords board;
  bool yes = false;         ///< every question is answered by its proposal
  bool no_weighing = false; ///< no scales here: not asked
  bool calibrate = false;
  std::optional<std::string> weighed_before; ///< as typed, "24.310g"
  std::optional<std::string> weighed_after;
  std::vector<std::string> recoat;            ///< sides; once for every further pour
  std::vector<std::string> cancel;            ///< sides that are not coated
  std::vector<std::string> repeat;            ///< washed off after a run; once for each time
  std::optional<std::string> after_early_end; ///< "repeat", "recoat", "leave" or "cancel"
  std::vector<std::string> keep_film;         ///< sides whose film from before is left as it is
  std::vector<std::string> over_film;         ///< sides that are poured over it
  std::vector<std::string> washed_off;        ///< of it, or of a side given up after its run
  std::vector<std::string> weighed_with;      ///< their film was on the plate at "before"
  std::vector<std::string> weighed_without;   ///< it was not
  bool sure = false;                          ///< a film by weight is kept, however far off
  std::vector<std::string> faults;            ///< of the simulation: "lid@12s" (run 1), "2:lid@9s"
};

/// Faults (command_line): sides that are none, or that the board does not have; two answers that
/// exclude each other; a mass without a unit; a fault that the simulation does not have; nobody
/// there to answer; --yes on a machine without a lid switch, and nobody says that the lid is shut.
[[nodiscard]] Outcome check_words(const CoatWords& words, const std::vector<std::string>& sides,
                                  const machine::Machine& machine);

/// A mass as typed, grams where no unit stands; none for a blank answer. Fault: no such mass.
[[nodiscard]] Result<std::optional<Mass>> read_mass(const std::string& text);

/// The last digit of a mass that `read_mass` takes.
[[nodiscard]] Mass digit_of_mass(const std::string& text);

/// The simulation's faults that are for this run, from 1 on.
[[nodiscard]] std::vector<std::string> faults_of_run(const CoatWords& words, int number);

} // namespace whirler::cli
