#include "whirler/balance/tolerance.hpp"

#include "whirler/units/text.hpp"

#include <array>
#include <cmath>
#include <string>

namespace whirler::balance {
namespace {

constexpr auto kGrades = std::to_array<Velocity>(
    {millimetres_per_s(0.4), millimetres_per_s(1.0), millimetres_per_s(2.5), millimetres_per_s(6.3),
     millimetres_per_s(16.0), millimetres_per_s(40.0), millimetres_per_s(100.0),
     millimetres_per_s(250.0), millimetres_per_s(630.0), millimetres_per_s(1600.0),
     millimetres_per_s(4000.0)});

// Beyond any rotor: a larger number is a slip of the keyboard. The standard's grades end at G 4000.
constexpr double kMostGrade = 4000.0; // mm/s
constexpr double kMostSpeed = 1e6;    // rpm
constexpr double kMostMass = 1e9;     // g

Outcome need_within(double value, double most, const std::string& what, const std::string& unit) {
  if (std::isfinite(value) && value > 0.0 && value <= most)
    return Done{};
  return input_fault(what + " is " + number_text(value, 6) + " " + unit, "balance tolerance",
                     value > most ? "give one up to " + number_text(most, 6) + " " + unit
                                  : "give a value above 0");
}

Outcome need_grade(Velocity grade) {
  return need_within(grade.mm_per_s(), kMostGrade, "the grade", "mm/s");
}
Outcome need_speed(Speed speed) { return need_within(speed.rpm(), kMostSpeed, "the speed", "rpm"); }
Outcome need_mass(Mass mass) { return need_within(mass.g(), kMostMass, "the rotor's mass", "g"); }

Outcome need_unbalance(Unbalance unbalance) {
  if (unbalance.is_finite())
    return Done{};
  return input_fault("the unbalance is not a number", "balance tolerance", "give it in g mm");
}

} // namespace

Result<Length> permissible_offset(Velocity grade, Speed speed) {
  if (const auto ok = need_grade(grade); !ok)
    return ok.fault();
  if (const auto ok = need_speed(speed); !ok)
    return ok.fault();
  return metres(grade.m_per_s() / speed.rad_per_s());
}

Result<Unbalance> permissible_unbalance(Velocity grade, Speed speed, Mass rotor) {
  if (const auto ok = need_mass(rotor); !ok)
    return ok.fault();
  const auto offset = permissible_offset(grade, speed);
  if (!offset)
    return offset.fault();
  return kilogram_metres(rotor.kg() * offset->m());
}

Result<Velocity> grade_at(Unbalance unbalance, Speed speed, Mass rotor) {
  for (const auto& ok : {need_speed(speed), need_mass(rotor), need_unbalance(unbalance)})
    if (!ok)
      return ok.fault();
  return metres_per_s(std::abs(unbalance.kg_m()) / rotor.kg() * speed.rad_per_s());
}

Result<std::optional<Speed>> highest_speed(Unbalance unbalance, Velocity grade, Mass rotor) {
  for (const auto& ok : {need_grade(grade), need_mass(rotor), need_unbalance(unbalance)})
    if (!ok)
      return ok.fault();
  if (unbalance.kg_m() == 0.0)
    return std::optional<Speed>{}; // no speed is too high
  const Speed highest = rad_per_s(grade.m_per_s() * rotor.kg() / std::abs(unbalance.kg_m()));
  if (!highest.is_finite())
    return std::optional<Speed>{};
  return std::optional<Speed>{highest};
}

std::span<const Velocity> standard_grades() { return kGrades; }

std::optional<Velocity> standard_grade_for(Velocity velocity) {
  for (const Velocity grade : kGrades)
    if (velocity <= grade)
      return grade;
  return std::nullopt;
}

} // namespace whirler::balance
