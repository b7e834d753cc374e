// The mechanics of a spinner: motor, drag, and a rotor that whirls on a soft mount.
//
//   y                      The spindle's axis is at (x, y) on springs that are the same in both
//   |    .-----.           directions. theta turns from the sensor's azimuth to the index mark;
//   |   /   o   \          the heavy side stands `heavy_side` ahead of the index mark, both
//   |  |  (x,y)  |  S      counted with the rotation. S: the sensor, on the ground, on the x axis.
//   |   \       /
//   |    '-----'           phi = theta + heavy_side
//   +-------------- x
//
//   M x'' = -c x' - k x + U (w^2 cos phi + w' sin phi)
//   M y'' = -c y' - k y + U (w^2 sin phi - w' cos phi)
//   J w'  = T_motor - T_drag(w) + U (x'' sin phi - y'' cos phi)
//
// The last term is what the whirl takes out of the rotation: with it a weak motor sticks at the
// mount's natural speed, as real ones do (Sommerfeld). Without it energy would come from nowhere.
// A mark passes the sensor when theta + y/R reaches its angle: a hub that moves with the rotation
// brings the mark early.
//
// Rejected: only the steady formula of Jeffcott's rotor (wrong on every ramp, and the run-up is
// where the analysis looks); springs of two stiffnesses (a later question, two more numbers).
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <vector>

namespace whirler::plant {

/// A motor behind a power stage: torque falls in a straight line from command to speed, like a
/// back EMF, and is limited both ways.
struct MotorModel {
  Torque torque = millinewton_metres(100.0); ///< the limit, driving
  Torque brake = millinewton_metres(50.0);   ///< the limit, braking; 0: freewheels
  Speed no_load = rpm(10000.0);              ///< at full command
  Torque stall = millinewton_metres(400.0);  ///< at full command, were there no limit
};

/// Torque at `command` (0 to 1 of full).
[[nodiscard]] Torque motor_torque(const MotorModel& motor, double command, Speed speed);

struct DragModel {
  Torque bearing = millinewton_metres(1.0);            ///< dry, the same at every speed
  Torque viscous_at_1000rpm = millinewton_metres(0.4); ///< grows with speed
  Length air_radius;                                   ///< of the disc that feels the plate's drag
};

/// What holds the spindle back at `speed`; 0 at standstill.
[[nodiscard]] Torque drag_torque(const DragModel& drag, Speed speed);

struct SpinnerModel {
  Inertia inertia = kg_m2(1.4e-4); ///< all that turns, plate included
  Mass moving = grams(600.0);      ///< all that moves on the mount, plate included
  Frequency natural = hertz(15.0);
  double damping = 0.08; ///< ratio to critical
  Unbalance unbalance;
  Angle heavy_side; ///< with the rotation from the index mark
  Length mark_radius = millimetres(15.0);
  Angle tilt; ///< of the axis out of plumb, towards the sensor
  Torque cogging;
  int cogging_per_turn = 12;
  DragModel drag;
  MotorModel motor;
};

/// Fault (input): a value that is not finite, or no machine (mass, inertia, stiffness not above
/// zero, damping negative, unbalance more than the inertia can carry).
[[nodiscard]] Outcome check(const SpinnerModel& model);

/// What acts on the spindle from outside during a step.
struct Drive {
  double command = 0.0; ///< 0 to 1 of full
  bool powered = false; ///< enable on, and the supply not switched off: else it coasts
  Torque load;          ///< anything else that holds it back
  bool jammed = false;  ///< something caught in it
};

/// State of the mechanics. SI units: rad, rad/s, m, m/s.
struct Motion {
  double theta = 0.0; ///< turned since power-up
  double omega = 0.0;
  double x = 0.0;
  double y = 0.0;
  double vx = 0.0;
  double vy = 0.0;
};

class Spinner {
 public:
  explicit Spinner(const SpinnerModel& model, Motion at = {});

  /// One step of the fourth-order Runge-Kutta method; `dt` at most a few tenths of a millisecond
  /// keeps a whirl at 6000 rpm good to 1e-5. It never turns backwards.
  void advance(Duration dt, const Drive& drive);

  [[nodiscard]] const Motion& motion() const { return now_; }
  [[nodiscard]] Speed speed() const { return rad_per_s(now_.omega); }
  /// The angle at which the sensor sees the marks: theta + y/R, in rad, and its rate in rad/s.
  [[nodiscard]] double seen_angle() const;
  [[nodiscard]] double seen_rate() const;
  /// Of rotation, whirl and springs together; what a step without motor and drag must keep.
  [[nodiscard]] Energy energy() const;

 private:
  struct Constants {
    double j, m, k, c, u, beta, r, tilt_torque, cogging, bearing, viscous, air_step;
  };
  [[nodiscard]] Motion rate(const Motion& at, const Drive& drive) const;
  [[nodiscard]] double torque(const Motion& at, const Drive& drive) const;

  Constants c_;
  MotorModel motor_;
  std::vector<double> air_; ///< N m, a point every air_step
  int cogging_per_turn_;
  Motion now_;
};

} // namespace whirler::plant
