// What `balance` is told on the command line.
#pragma once

#include "guided_balance.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// As typed. Texts that may stand for a mistake stay texts until the work begins, so that the
/// mistake is told like every other.
struct BalanceWords {
  std::string grade;
  std::optional<Speed> speed;
  std::optional<Mass> mass;
  std::vector<std::string> before;
  std::vector<std::string> with_trial;
  std::vector<std::string> pattern;
  std::string trial;
  std::string amplitudes;
  std::optional<Length> radius;
  std::string noise;
  bool from_jitter = false;
  bool trial_stays = false;
  std::string holes;
  std::vector<std::string> without; ///< angles of holes that are taken
  std::optional<Mass> largest;
  std::optional<Mass> step;
  PlateOptions plate;
  std::string svg;
  bool guided = false;
  GuidedWords guide;
};

/// Gives the exit status.
[[nodiscard]] int balance_command(const BalanceWords& words, const Context& context);

} // namespace whirler::cli
