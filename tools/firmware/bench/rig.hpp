// The spinner that the chip's pins are tied to: this project's simulated mechanics and marks
// (room `plant`), a speed controller, a lid, an emergency stop in the motor's supply, and wires
// that can fail.
#pragma once

#include "chip.hpp"
#include "speed_controller.hpp"

#include "whirler/plant/setup.hpp"

#include <optional>
#include <vector>

namespace bench {

enum class MotorStage { servo, pwm };

struct RigModel {
  whirler::plant::Setup setup;
  MotorStage stage = MotorStage::servo;
  ControllerModel controller;
  bool wide_index = false; ///< mark 0 is wide, and the tach goes to the index input too
  bool supply_wire = true; ///< the chip is told whether the motor's supply is on
};

struct TracePoint {
  Cycles at = 0;
  double rpm = 0.0;
  double command = 0.0;
  bool enabled = false;
};

class Rig {
 public:
  Rig(Chip& chip, const RigModel& model);

  /// A servo pulse has ended; for who has taken the chip's own report of it.
  void servo_pulse(Cycles width) { controller_.pulse(width, chip_.now()); }

  void lid(bool open);
  void emergency_stop(bool pressed);
  /// The wire breaks: the pull-up holds the input high, whatever the sensor says.
  void cut_tach_wire();
  void jam(bool jammed) { jammed_ = jammed; }
  /// Only every n-th mark is still seen; 1 for all.
  void see_every(int n) { see_every_ = n; }
  void load(whirler::Torque torque) { load_ = torque; }
  /// The power stage gives full power whatever it is told, as long as it has its supply.
  void stick_full(bool stuck) { stuck_ = stuck; }
  /// Times that mark 0 has passed the sensor since the rig was made.
  [[nodiscard]] int index_passes() const { return index_passes_; }

  [[nodiscard]] double rpm() const { return spinner_.speed().rpm(); }
  [[nodiscard]] const whirler::plant::Spinner& spinner() const { return spinner_; }
  [[nodiscard]] bool motor_powered() const { return powered_; }
  /// When the enable last went low; none before the first time.
  [[nodiscard]] std::optional<Cycles> disabled_at() const { return disabled_at_; }
  [[nodiscard]] std::uint64_t enabled_count() const { return enabled_count_; }
  /// Marks that passed the sensor, seen by the chip or not, with the cycle of their edge.
  [[nodiscard]] const std::vector<Cycles>& edges() const { return edges_; }
  /// A point each millisecond since trace(true).
  void trace(bool wanted) { tracing_ = wanted; }
  [[nodiscard]] const std::vector<TracePoint>& traced() const { return trace_; }

 private:
  void step();
  void mark(const whirler::plant::MarkPulse& pulse);
  void pass(Cycles rise, Cycles width, int mark);
  void level(bool high);
  void gap_after(int mark);
  void enable_changed(bool on);
  void supply_changed();
  [[nodiscard]] double command() const;

  Chip& chip_;
  RigModel model_;
  SpeedController controller_;
  whirler::plant::Spinner spinner_;
  whirler::plant::MarkSensor sensor_;
  std::vector<whirler::plant::MarkPulse> pulses_;
  Cycles began_;
  bool stop_pressed_ = false;
  bool powered_ = false;
  bool tach_cut_ = false;
  bool jammed_ = false;
  bool stuck_ = false;
  int index_passes_ = 0;
  std::optional<int> under_sensor_; ///< the mark that is
  int see_every_ = 1;
  std::uint64_t marks_passed_ = 0;
  whirler::Torque load_;
  std::optional<Cycles> disabled_at_;
  std::uint64_t enabled_count_ = 0;
  std::vector<Cycles> edges_;
  bool tracing_ = false;
  std::vector<TracePoint> trace_;
};

} // namespace bench
