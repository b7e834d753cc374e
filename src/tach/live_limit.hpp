// What a running watch holds the plate against: a stop limit of force, of the rotor's e times
// omega, or of the angle that the marks are early or late by.
#pragma once

#include "whirler/tach/spinner_model.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace whirler::tach {

class StopLimit {
 public:
  explicit StopLimit(const SpinnerModel& model) : model_(model) {}

  /// Force or velocity, which need the mount's and the rotor's masses; else the angle.
  [[nodiscard]] bool of_unbalance() const { return measure() != Measure::angle; }
  /// N, m/s or rad; none where the machine has no limit.
  [[nodiscard]] std::optional<double> value() const;
  /// The rotor's e times omega (m/s) to the far whirl (rad) at a speed (rad/s).
  [[nodiscard]] double velocity_of(double far_above, double speed) const;
  /// The same in the limit's measure (N, m/s).
  [[nodiscard]] double unbalance_of(double far_above, double speed) const;
  /// Why a value that is surely over the limit stops the run: "force of the unbalance is at least
  /// 1.3 N at 3160 rpm, over the stop limit of 1.2 N".
  [[nodiscard]] std::string said(double value, double speed, std::string_view when) const;

 private:
  enum class Measure { force, velocity, angle };
  [[nodiscard]] Measure measure() const;

  SpinnerModel model_;
};

} // namespace whirler::tach
