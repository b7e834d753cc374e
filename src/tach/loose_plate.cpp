#include "causes_in_time.hpp"
#include "ramp_jump.hpp"
#include "run_up_account.hpp"
#include "sub_multiple.hpp"
#include "vector_steps.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

/// Near its natural speed a mount takes its time to settle after a ramp, and a vector that settles
/// is none that steps: the first block that is past it.
std::size_t settled_block(const CauseSearch& s) {
  constexpr double kNear =
      0.35; // of the natural speed; farther off the beats are fast and even out
  constexpr double kTimes = 6.0; // time constants
  constexpr double kUsualDamping = 0.03;
  if (s.place.dwell.from == 0)
    return 0;
  const double speed = s.place.dwell.speed;
  double wait = 0.0;
  constexpr double kMostUnknown = 0.25; // of the stretch, for a mount that is but the best of many
  const auto allow_for = [&](double hz, double damping) {
    const double wn = kTwoPi * hz;
    if (std::abs(speed / wn - 1.0) < kNear)
      wait = std::max(wait, kTimes / (std::max(damping, 0.01) * wn));
  };
  if (s.recording.model.natural)
    allow_for(s.recording.model.natural->Hz(), s.recording.model.damping.value_or(kUsualDamping));
  if (s.analysis.run_up)
    allow_for(s.analysis.run_up->mount.natural.Hz(), s.analysis.run_up->mount.damping);
  const bool known =
      s.recording.model.natural || (s.analysis.run_up && s.analysis.run_up->mount.found);
  if (!known)
    wait = std::min(wait, kMostUnknown * kTwoPi * static_cast<double>(s.fit.turns) / speed);
  double length = 0.0;
  std::size_t block = 0;
  while (block < s.fit.blocks.size() && length < wait)
    length += kTwoPi * static_cast<double>(s.fit.blocks[block++].turns) / speed;
  return block;
}

/// "after 35 and 65 % of the stretch"
std::string places(const std::vector<VectorStep>& steps, std::size_t blocks) {
  std::string out = "after ";
  for (std::size_t i = 0; i < steps.size(); ++i)
    out +=
        (i == 0                  ? ""
         : i + 1 == steps.size() ? " and "
                                 : ", ") +
        number_text(100.0 * static_cast<double>(steps[i].block) / static_cast<double>(blocks), 2);
  return out + " % of the stretch";
}

/// Asked only where one mount leaves something of the run-up, or what falls with speed: a step does
/// both.
std::optional<RampJump> ramp_jump(const CauseSearch& s) {
  constexpr double kSurely = 1e-6;
  const auto& r = s.analysis.run_up;
  if (!r || (!r->misfit && !r->left_over && r->p_plumb > kSurely))
    return std::nullopt;
  const auto& part = s.survey.parts[s.place.part];
  TurnSlots slots = part.slots;
  const TurnBasis basis = run_up_basis(part.marks);
  const RunUpProblem problem(basis, slots, part.tick, softest_hz(s.recording.model));
  return jump_in_ramps(problem, mounts_of(r->fitting.front()));
}

} // namespace

void ask_loose(const CauseSearch& s, std::vector<Finding>& out) {
  constexpr double kLeastStep = 1e-4; // rad
  constexpr double kLeastRattle = 2e-5;
  const std::string next = "stop and check the screw and what the plate sits on";
  if (s.pattern.late.size() > 1) {
    const auto steps = steps_of(s.fit, settled_block(s));
    double largest = 0.0;
    for (const VectorStep& step : steps)
      largest = std::max(largest, step.change.amplitude().rad());
    if (largest > kLeastStep) {
      out.push_back({Cause::loose_plate,
                     "the once-per-turn vector jumps by " +
                         std::string(steps.size() > 1 ? "up to " : "") + mrad(largest) + " " +
                         places(steps, s.fit.blocks.size()),
                     next});
      return;
    }
  }
  if (s.analysis.run_up && s.analysis.run_up->moved) {
    const RunUp& r = *s.analysis.run_up;
    out.push_back(
        {Cause::loose_plate,
         "the unbalance is another from " + number_text(r.moved->speed.rpm(), 3) +
             " rpm of the ramp on: " + mrad(r.moved->before.amplitude().rad()) + " before and " +
             mrad(r.far_above.amplitude().rad()) + " since, far above the natural speed, " +
             number_text(std::abs(std::remainder(
                             (r.far_above.phase() - r.moved->before.phase()).deg(), 360.0)),
                         2) +
             " degrees apart",
         next});
    return;
  }
  if (const auto jump = ramp_jump(s)) {
    out.push_back({Cause::loose_plate,
                   "the once-per-turn vector jumps by " + mrad(jump->size) +
                       " from one turn to the next in the ramp, at " +
                       number_text(jump->speed * 60.0 / kTwoPi, 3) + " rpm",
                   next});
    return;
  }
  const SubMultiple sub = sub_multiple(s.survey.parts[s.place.part], s.place.dwell);
  if (sub.of == 0 || sub.amplitude < kLeastRattle)
    return;
  const std::string turn = sub.of == 2 ? "second" : "third";
  const std::size_t marks = s.survey.basis->marks * static_cast<std::size_t>(sub.of);
  out.push_back({Cause::loose_plate,
                 mrad(sub.amplitude) + " every " + turn +
                     " turn: something rattles at a part of the turn's frequency" +
                     (s.survey.marked.has_index
                          ? std::string()
                          : ", or there are " + std::to_string(marks) + " marks a turn"),
                 next + (s.survey.marked.has_index ? "" : "; check the number of marks a turn")});
}

} // namespace whirler::tach
