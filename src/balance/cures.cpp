#include "whirler/balance/cures.hpp"

#include "checks.hpp"
#include "whirler/balance/tolerance.hpp"

#include <cmath>

namespace whirler::balance {
namespace {

Outcome check(const OffBalance& off) {
  const auto positive = [](double value) { return std::isfinite(value) && value > 0.0; };
  if (!off.unbalance.size.is_finite() || !off.unbalance.at.is_finite())
    return input_fault("the unbalance is not a number", "balance", "check the readings");
  if (!positive(off.plate.g()) || !positive(off.undrilled.g()))
    return input_fault("the plate has no mass", "balance", "check the blank");
  if (off.rim && !positive(off.rim->mm()))
    return input_fault("the rim has no radius", "balance", "give the radius in mm");
  return Done{};
}

} // namespace

Result<Cures> cures(const OffBalance& off) {
  if (const auto ok = check(off); !ok)
    return ok.fault();
  const double kg_m = off.unbalance.size.kg_m();
  const Angle heavy = wrapped(off.unbalance.at);
  const Angle light = wrapped(off.unbalance.at + turns(0.5));
  Cures made;
  made.shift = {metres(kg_m / off.plate.kg()), light};
  made.hole_lets_shift = !off.hole || made.shift.by < 0.5 * *off.hole;
  made.redrill = {metres(kg_m / off.undrilled.kg()), heavy};
  if (off.rim)
    made.counter = mass_for(-to_kg_m(off.unbalance), *off.rim);
  if (off.rotor && off.grade) {
    const auto speed =
        highest_speed(off.at_most.value_or(off.unbalance.size), *off.grade, *off.rotor + off.plate);
    if (!speed)
      return speed.fault();
    made.slower = *speed;
  }
  return made;
}

} // namespace whirler::balance
