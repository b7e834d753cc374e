// The driver's own program, apart from its line: states, latches and the rules that end a run.
// PROTOCOL.md section 6 is what it obeys; the words here are the same.
//
//   latched --clear--> ready --start--> starting --3 intervals--> running --end, stop--> stopping
//      ^                                    |                        |                       |
//      +-- fault, cut: at once -------------+------------------------+-----------------------+
//
// Nothing in here waits. Time comes in through `advance`, and every way out of turning goes through
// one function that sets command and enable to off.
#pragma once

#include "whirler/plant/program.hpp"
#include "whirler/plant/speed_loop.hpp"
#include "whirler/plant/tach_input.hpp"

#include <cstdint>
#include <optional>

namespace whirler::plant {

struct ControllerModel {
  link::HelloReply driver; ///< its capabilities; versions and nonce are not used here
  NominalMachine nominal;
};

class MotorController {
 public:
  using Refusal = std::optional<link::Nak>; ///< none: accepted; type and seq are not filled in

  MotorController(const ControllerModel& model, link::Latch woke_by);

  // What a host asks.
  void hello(bool common_version);
  [[nodiscard]] Refusal clear();
  [[nodiscard]] Refusal put(const link::Segment& segment);
  [[nodiscard]] Refusal start(const link::Start& start);
  void keep_alive(std::uint16_t report);
  void stop(link::StopKind kind);

  // What its inputs say.
  void lid(bool open);
  void pulse(std::int64_t ticks, bool is_index) { tach_.pulse(ticks, is_index); }
  /// One step of its main loop, `dt` after the last, with its tick counter at `ticks`.
  void advance(Duration dt, std::int64_t ticks);

  // What its outputs show.
  [[nodiscard]] double command() const { return command_; }
  [[nodiscard]] bool enabled() const { return enabled_; }
  [[nodiscard]] bool greeted() const { return greeted_; }
  [[nodiscard]] bool turning() const;
  [[nodiscard]] link::DriverState state() const { return state_; }
  [[nodiscard]] link::Latch latch() const { return latch_; }
  /// Since the last fresh keep-alive, or the start.
  [[nodiscard]] Duration since_fed() const { return now_ - fed_; }
  /// A report with the next number; `frames_discarded` is the line's.
  [[nodiscard]] link::Status report(std::uint16_t frames_discarded);
  /// True once after state, latch, lid or enable changed, or a stop was heard.
  [[nodiscard]] bool take_news();
  [[nodiscard]] TachInput& tach() { return tach_; }

 private:
  void off(link::Latch why);
  [[nodiscard]] bool still() const;
  [[nodiscard]] Speed ceiling() const;
  [[nodiscard]] double start_command() const;
  [[nodiscard]] Refusal check_program(const link::Start& start) const;
  [[nodiscard]] Refusal check_start(const link::Start& start) const;
  void watch_start();
  void watch_run(Duration dt);
  [[nodiscard]] bool marks_overdue() const;
  [[nodiscard]] link::Latch why_no_marks() const;
  void drive(Duration dt);

  ControllerModel model_;
  TachInput tach_;
  SegmentTable table_;
  SpeedLoop loop_;
  ProgramWalk walk_;

  link::DriverState state_ = link::DriverState::latched;
  link::Latch latch_;
  link::Start program_; ///< of the last start
  bool greeted_ = false;
  bool lid_open_ = false;
  bool news_ = false;
  bool enabled_ = false;
  double command_ = 0.0;

  Duration now_; ///< driver's clock
  Duration off_since_;
  Duration started_;
  Duration fed_;         ///< the dead-man
  Duration implausible_; ///< for how long the command has been far above its need
  std::uint16_t reports_ = 0;
};

} // namespace whirler::plant
