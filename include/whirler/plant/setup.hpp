// Everything that a simulated spinner is made of, and how a machine file and a blank become one.
#pragma once

#include "whirler/blank/blank.hpp"
#include "whirler/machine/machine.hpp"
#include "whirler/plant/fault_script.hpp"
#include "whirler/plant/mark_sensor.hpp"
#include "whirler/plant/motor_controller.hpp"
#include "whirler/plant/spinner.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace whirler::plant {

/// Drag that wanders, as a bearing's does: what the speed loop hunts after.
struct WanderingLoad {
  Torque rms = millinewton_metres(0.3);
  Duration memory = seconds(0.3); ///< correlation time
};

struct Setup {
  SpinnerModel spinner;
  MarkModel marks;
  ControllerModel controller;
  WanderingLoad load;
  double clock_error = 40e-6;         ///< of the driver's oscillator, a share: + runs fast
  Duration boots_in = seconds(1.5);   ///< from reset to the first byte heard
  Duration awake_for = seconds(10.0); ///< since power-up when the simulation begins
  std::uint64_t seed = 1;
  std::vector<ScriptedFault> faults;
};

/// What a machine file does not tell.
struct Unknowns {
  Angle pitch_rms = milliradians(5.0);   ///< of hand-made marks; at most 5 % of their distance
  Angle pulse_noise = milliradians(0.1); ///< standard deviation of one pulse
  Unbalance hub_unbalance = gram_millimetres(0.5); ///< of the bare hub
  Angle hub_heavy_side = degrees(70.0);            ///< with the rotation from the index mark
  Angle plate_x_at; ///< where the plate's x axis is bolted: with the rotation from the index mark
  std::uint8_t tick_bits = 24; ///< at 0.5 us it wraps every 8.4 s: hosts get to see it
  std::uint64_t seed = 1;
};

/// A spinner as the file describes it, with the plate on it if there is one. The driver's own
/// limits are the file's. Faults (input): those of the blank; a machine that cannot be.
[[nodiscard]] Result<Setup> make_setup(const machine::Machine& machine,
                                       const std::optional<blank::Blank>& blank,
                                       const Unknowns& unknowns = {});

/// The pattern of a disc of marks as a workshop makes it: `rms` each, or 5 % of the marks' distance
/// where that is less: marks that stand close are not drawn by hand, they would change places.
[[nodiscard]] std::vector<Angle> workshop_pattern(int per_turn, Angle rms, std::uint64_t seed);

/// A machine for when no file is given: six marks with an index, to 6000 rpm, soft mount.
[[nodiscard]] machine::Machine plain_machine();

} // namespace whirler::plant
