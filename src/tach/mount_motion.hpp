// The mount's answer to unbalance, along any motion of the spindle.
//
// In coordinates that do not turn, with g the whirl in units of U/M as x + jy turned so that the
// sensor stands on the real axis, and psi the angle since the index mark passed it:
//
//     g'' + 2 z wn g' + wn^2 g = (w^2 - j dw/dt) exp(j psi)
//     lateness of the mark that passes = Re(K conj(g)),   |K| = U/(M R_m)
//
// At a steady speed g = G exp(j psi) and D = K conj(G), G = r^2/(1 - r^2 + 2 j z r), r = w/wn
// (Jeffcott's rotor). Along a ramp that is wrong by as much as the ramp is fast against (z wn)^2/5,
// so the equation is integrated; over a step in which the speed hardly changes its solution is
// known exactly, so the step may be a sixth of a turn however soft or stiff the mount.
#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace whirler::tach {

using Complex = std::complex<double>;

struct MountNumbers {
  double wn = 1.0; ///< rad/s
  double z = 0.5;
};

/// The natural speeds that a motion is made of: none (nothing whirls), one, or two (a mount softer
/// in one direction, or a second mode). Each has a K of its own; their motions add. Or one on which
/// the plate moved: its K is the first one's before that turn of the stretch, and the second one's
/// from there on.
struct Mounts {
  Mounts() = default;
  [[nodiscard]] static Mounts moved_plate(MountNumbers on, std::size_t at_turn) {
    Mounts out(on, on);
    out.moves_at = at_turn;
    return out;
  }
  Mounts(MountNumbers one) : of{one, one}, count(1) {} // NOLINT: one is the usual case
  Mounts(MountNumbers one, MountNumbers other) : of{one, other}, count(2) {}
  std::array<MountNumbers, 2> of{};
  std::size_t count = 0;
  std::optional<std::size_t> moves_at{};
};

/// G at `w` rad/s.
[[nodiscard]] Complex steady_gain(MountNumbers mount, double w);

/// Steps of a turn that the equation is integrated over: a multiple of the marks where they are
/// few, so that every mark falls on one; 16 (or 8) where they are many.
enum class Steps { fine, coarse };
[[nodiscard]] std::size_t steps_a_turn(std::size_t marks, Steps steps);

class MountMotion {
 public:
  MountMotion(MountNumbers mount, std::size_t steps);

  /// As if the speed (rad/s) and its change (rad/s^2) had been so for long, at psi = 0.
  void settle(double speed, double ramp);
  /// The first that is seen of a run, at psi = 0: a speed that the ramp reaches within a turn or so
  /// from rest was reached so; any other has been so for long. A mount that is soft is passed
  /// before anything else is seen, and rings of it for turns.
  void begin(double speed, double ramp);
  /// One turn from psi = 0: durations of its steps, s, and dw/dt. Gives g at each step's beginning.
  void turn(std::span<const double> step_s, double ramp, std::span<Complex> g);
  /// The same without unbalance: what is left of the motion rings down.
  void coast(std::span<const double> step_s, std::span<Complex> g);

 private:
  void step(double w, double ramp, Complex fade, Complex from, Complex to);
  void ring(Complex fade);

  MountNumbers mount_;
  double free_; ///< damped natural speed, rad/s
  std::vector<Complex> direction_;
  Complex g_;
  Complex rate_;
};

} // namespace whirler::tach
