// A whole test stand on one chip's clock: chip, spinner, line and host; and the way to any moment
// of a run.
#pragma once

#include "chip.hpp"
#include "host.hpp"
#include "rig.hpp"
#include "serial_line.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace bench {

struct StandModel {
  std::string image = "plain"; ///< which build of the firmware
  int marks = 6;               ///< on the rotor
  whirler::Inertia inertia = whirler::kg_m2(1.4e-4);
  whirler::Unbalance unbalance = whirler::gram_millimetres(5.0);
  MotorStage stage = MotorStage::servo;
  bool wide_index = false;
  bool index = true;
  bool supply_wire = true;
  std::uint64_t seed = 1;
};

/// Where in a run something is done.
enum class Moment { ready, arming, searching, ramp, dwell, second_ramp, second_dwell, stopping };
[[nodiscard]] std::string name(Moment moment);
/// Whether a report shows that a run has got there.
[[nodiscard]] bool shows(Moment moment, const whirler::link::Status& status);

/// The plain bench machine of room `plant`, with that rotor and those wires.
[[nodiscard]] RigModel rig_model(const StandModel& model);

class Stand {
 public:
  explicit Stand(const StandModel& model);

  /// Greets and starts a program, then runs until that moment, and `later` further into it. Throws
  /// std::runtime_error where the firmware does not get there.
  void reach(Moment moment, Cycles later = 0);
  /// The same, with a program of the caller's.
  void start(const std::vector<whirler::link::Segment>& segments, whirler::Ramp stop_slope);
  /// Greets, and waits for a standstill that the driver believes.
  void greet();
  /// Runs to the end of the run; false when it does not end in so long.
  bool finish(Cycles patience);

  [[nodiscard]] Cycles now() const { return chip.now(); }

  Chip chip;
  Rig rig;
  SerialLine line;
  Host host;

 private:
  StandModel model_;
};

/// Two steps, short: 800 rpm at 1000 rpm/s for 1.5 s, then 2400 rpm at 1500 rpm/s for 2 s.
[[nodiscard]] std::vector<whirler::link::Segment> short_program();

} // namespace bench
