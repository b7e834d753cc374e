// A whole simulated spinner behind its serial line: bytes in, bytes out, and time by hand.
//
// Pure and repeatable: the same setup, bytes and steps give the same bytes. It reads no clock, so a
// test may run an hour in a blink; drive/simulated_drive.hpp paces one against the wall's clock and
// puts it on a real pseudo-terminal.
//
// Time moves in steps of 0.25 ms for the mechanics and 1 ms for the driver's program. Stop
// sequences and the lid act without waiting for a step.
#pragma once

#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/link/stop_sequence.hpp"
#include "whirler/plant/motor_controller.hpp"
#include "whirler/plant/setup.hpp"

#include <cstdint>
#include <deque>
#include <optional>
#include <random>
#include <span>
#include <vector>

namespace whirler::plant {

/// What is really so, for tests and for a screen beside the host's.
struct Truth {
  Duration at; ///< simulated time since power-on
  Speed speed;
  double turns = 0.0;
  Length whirl; ///< of the hub, from its place at rest
  double command = 0.0;
  bool enabled = false;
  link::DriverState state = link::DriverState::latched;
  link::Latch latch = link::Latch::none;
};

class SimulatedDriver {
 public:
  explicit SimulatedDriver(const Setup& setup);

  /// Bytes from the host, now.
  void receive(std::span<const std::uint8_t> bytes);
  /// Lets simulated time pass. What is left of a step waits for the next call.
  void advance(Duration dt);
  /// Bytes for the host since the last call.
  [[nodiscard]] std::vector<std::uint8_t> take_output();

  /// Resets the driver now, as opening the port does to many boards.
  void reset(link::Latch woke_by) { boot(woke_by); }
  /// The lid, by hand; a fault of the script holds it open besides.
  void lid(bool open) { lid_open_ = open; }
  /// False while the cable is pulled.
  [[nodiscard]] bool plugged() const { return !faults_.holds(FaultWord::cable); }
  /// Turning, and no fresh keep-alive for so long; zero while nothing turns.
  [[nodiscard]] Duration unfed() const;
  [[nodiscard]] Truth truth() const;

 private:
  struct Late {
    Duration due;
    std::vector<std::uint8_t> bytes;
  };

  void step_mechanics();
  void step_program();
  void apply_faults();
  void switch_marks();
  void wander();
  void boot(link::Latch woke_by);
  void feel_pulses();
  [[nodiscard]] bool awake() const { return boots_left_ <= seconds(0.0) && !hung(); }
  [[nodiscard]] bool hung() const { return hang_left_ > seconds(0.0); }
  [[nodiscard]] std::int64_t ticks(Duration at) const;

  void answer(const link::Frame& frame);
  void answer_hello(const link::Hello& hello);
  [[nodiscard]] MotorController::Refusal obey(const link::HostMessage& message);
  void refuse(const link::Frame& frame, link::Nak nak);
  void speak();
  void send(const link::DriverMessage& message);
  void put_on_line(std::vector<std::uint8_t> bytes);
  void damage(std::vector<std::uint8_t>& bytes);

  Setup setup_;
  Spinner spinner_;
  MarkSensor sensor_;
  Duration sensor_began_; ///< its time zero
  FaultSchedule faults_;
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;

  MotorController controller_;
  link::StopDetector stops_;
  link::Decoder decoder_{link::kMaxHostPayload};
  std::uint8_t seq_ = 0;

  std::int64_t steps_ = 0; ///< of mechanics, since power-on
  Duration owed_;          ///< time asked for that is less than a step
  Duration powered_at_;    ///< of the driver's last boot; negative: before the simulation
  Duration boots_left_;
  Duration hang_left_;
  bool hang_began_ = false;
  bool lid_open_ = false;
  Duration to_report_;
  std::optional<Duration> first_start_;
  double load_N_m_ = 0.0;
  std::uint64_t seen_pulses_ = 0;
  std::vector<MarkPulse> pulses_;
  std::deque<Late> late_;
  std::vector<std::uint8_t> output_;
};

} // namespace whirler::plant
