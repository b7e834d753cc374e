#include "live_limit.hpp"

#include "whirler/units/text.hpp"

namespace whirler::tach {

StopLimit::Measure StopLimit::measure() const {
  if (model_.gives_velocity() && model_.limits.stop_force)
    return Measure::force;
  if (model_.gives_velocity() && model_.limits.stop_velocity)
    return Measure::velocity;
  return Measure::angle;
}

double StopLimit::velocity_of(double far_above, double speed) const {
  return far_above * model_.moving_mass->kg() * model_.mark_radius->m() * speed /
         model_.rotor_mass->kg();
}

double StopLimit::unbalance_of(double far_above, double speed) const {
  const double velocity = velocity_of(far_above, speed);
  return measure() == Measure::force ? velocity * model_.rotor_mass->kg() * speed : velocity;
}

std::optional<double> StopLimit::value() const {
  switch (measure()) {
  case Measure::force:
    return model_.limits.stop_force->N();
  case Measure::velocity:
    return model_.limits.stop_velocity->m_per_s();
  case Measure::angle:
    break;
  }
  if (model_.limits.stop_angle)
    return model_.limits.stop_angle->rad();
  return std::nullopt;
}

std::string StopLimit::said(double value_si, double speed, std::string_view when) const {
  struct Words {
    std::string_view what;
    std::string_view unit;
    double per_si;
  };
  const auto words = [this]() -> Words {
    switch (measure()) {
    case Measure::force:
      return {"force of the unbalance", " N", 1.0};
    case Measure::velocity:
      return {"unbalance e times omega", " mm/s", 1e3};
    case Measure::angle:
      break;
    }
    return {"once per turn", " mrad", 1e3};
  }();
  const auto with_unit = [&words](double si) {
    return number_text(si * words.per_si) + std::string(words.unit);
  };
  return std::string(words.what) + " is at least " + with_unit(value_si) + " " + std::string(when) +
         " " + number_text(speed * 60.0 / kRadPerTurn) + " rpm, over the stop limit of " +
         with_unit(*value());
}

} // namespace whirler::tach
