// Faults on request: "lid@12s", "drop=3@5s", "corrupt=1e-3@0s", "estop@8s+2s".
//
//   WORD [=VALUE] @TIME [+DURATION]
//
// Times count from the first start of a program, because that is what a test of a run means; what
// is asked for at 0 s counts from power-on, so that a driver can be silent or corrupted from the
// first hello. All times are of the simulated clock.
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace whirler::plant {

enum class FaultWord {
  lid,
  drop,
  tach,
  marks,
  stall,
  estop,
  runaway,
  cable,
  corrupt,
  deaf,
  silent,
  slow,
  garbage,
  reset,
  brownout,
  hang
};
inline constexpr std::size_t kFaultWords = 16;

struct FaultDescription {
  FaultWord word;
  std::string_view name;
  std::string_view what;  ///< what happens, a line
  std::string_view value; ///< what the value means; empty: takes none
  double usual = 0.0;     ///< the value where none is given
};
[[nodiscard]] std::span<const FaultDescription> fault_descriptions();

struct ScriptedFault {
  FaultWord word = FaultWord::lid;
  double value = 0.0;
  Duration at;
  std::optional<Duration> lasts; ///< for ever where none is given
};

/// Fault (command_line): no such word (all are listed), a value where none belongs or out of its
/// range, a time that is missing or negative.
[[nodiscard]] Result<ScriptedFault> parse_fault(std::string_view text);

/// Which faults hold now.
class FaultSchedule {
 public:
  explicit FaultSchedule(std::vector<ScriptedFault> faults) : faults_(std::move(faults)) {}

  /// `since_start` is empty before the first start of a program.
  void advance(Duration since_power_on, std::optional<Duration> since_start);
  [[nodiscard]] bool holds(FaultWord word) const { return value(word).has_value(); }
  [[nodiscard]] std::optional<double> value(FaultWord word) const {
    return now_[static_cast<std::size_t>(word)];
  }
  /// True in the one step in which it began.
  [[nodiscard]] bool begins(FaultWord word) const {
    return holds(word) && !before_[static_cast<std::size_t>(word)].has_value();
  }
  [[nodiscard]] bool ends(FaultWord word) const {
    return !holds(word) && before_[static_cast<std::size_t>(word)].has_value();
  }

 private:
  using Values = std::array<std::optional<double>, kFaultWords>;
  std::vector<ScriptedFault> faults_;
  Values now_{};
  Values before_{};
};

} // namespace whirler::plant
