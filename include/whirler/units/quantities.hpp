// The kinds of quantity that the program knows: a maker a unit, and a reading a unit.
#pragma once

#include "whirler/units/quantity.hpp"

#include <numbers>

namespace whirler {

inline constexpr double kRadPerTurn = 2.0 * std::numbers::pi;

/// A span of time. SI unit: s.
class Duration : public Quantity<Duration> {
 public:
  [[nodiscard]] constexpr double s() const { return si(); }
  [[nodiscard]] constexpr double ms() const { return si() / 1e-3; }
  [[nodiscard]] constexpr double us() const { return si() / 1e-6; }
  [[nodiscard]] constexpr double min() const { return si() / 60.0; }
};
[[nodiscard]] constexpr Duration seconds(double value) { return Duration::from_si(value); }
[[nodiscard]] constexpr Duration milliseconds(double value) {
  return Duration::from_si(value * 1e-3);
}
[[nodiscard]] constexpr Duration microseconds(double value) {
  return Duration::from_si(value * 1e-6);
}
[[nodiscard]] constexpr Duration minutes(double value) { return Duration::from_si(value * 60.0); }

/// Angular speed of a spindle. SI unit: rad/s.
class Speed : public Quantity<Speed> {
 public:
  [[nodiscard]] constexpr double rad_per_s() const { return si(); }
  [[nodiscard]] constexpr double rpm() const { return si() / (kRadPerTurn / 60.0); }
  [[nodiscard]] constexpr double turns_per_s() const { return si() / (kRadPerTurn); }
};
[[nodiscard]] constexpr Speed rad_per_s(double value) { return Speed::from_si(value); }
[[nodiscard]] constexpr Speed rpm(double value) {
  return Speed::from_si(value * (kRadPerTurn / 60.0));
}
[[nodiscard]] constexpr Speed turns_per_s(double value) {
  return Speed::from_si(value * kRadPerTurn);
}

/// Rate of change of a spindle's speed. SI unit: rad/s2.
class Ramp : public Quantity<Ramp> {
 public:
  [[nodiscard]] constexpr double rad_per_s2() const { return si(); }
  [[nodiscard]] constexpr double rpm_per_s() const { return si() / (kRadPerTurn / 60.0); }
};
[[nodiscard]] constexpr Ramp rad_per_s2(double value) { return Ramp::from_si(value); }
[[nodiscard]] constexpr Ramp rpm_per_s(double value) {
  return Ramp::from_si(value * (kRadPerTurn / 60.0));
}

/// A plane angle. SI unit: rad.
class Angle : public Quantity<Angle> {
 public:
  [[nodiscard]] constexpr double rad() const { return si(); }
  [[nodiscard]] constexpr double mrad() const { return si() / 1e-3; }
  [[nodiscard]] constexpr double deg() const { return si() / (kRadPerTurn / 360.0); }
  [[nodiscard]] constexpr double turns() const { return si() / (kRadPerTurn); }
};
[[nodiscard]] constexpr Angle radians(double value) { return Angle::from_si(value); }
[[nodiscard]] constexpr Angle milliradians(double value) { return Angle::from_si(value * 1e-3); }
[[nodiscard]] constexpr Angle degrees(double value) {
  return Angle::from_si(value * (kRadPerTurn / 360.0));
}
[[nodiscard]] constexpr Angle turns(double value) { return Angle::from_si(value * kRadPerTurn); }

/// Cycles a second, of something that is not a turn of the spindle. SI unit: Hz.
class Frequency : public Quantity<Frequency> {
 public:
  [[nodiscard]] constexpr double Hz() const { return si(); }
};
[[nodiscard]] constexpr Frequency hertz(double value) { return Frequency::from_si(value); }

/// A length or thickness. SI unit: m.
class Length : public Quantity<Length> {
 public:
  [[nodiscard]] constexpr double m() const { return si(); }
  [[nodiscard]] constexpr double mm() const { return si() / 1e-3; }
  [[nodiscard]] constexpr double um() const { return si() / 1e-6; }
  [[nodiscard]] constexpr double nm() const { return si() / 1e-9; }
};
[[nodiscard]] constexpr Length metres(double value) { return Length::from_si(value); }
[[nodiscard]] constexpr Length millimetres(double value) { return Length::from_si(value * 1e-3); }
[[nodiscard]] constexpr Length micrometres(double value) { return Length::from_si(value * 1e-6); }
[[nodiscard]] constexpr Length nanometres(double value) { return Length::from_si(value * 1e-9); }

/// SI unit: m2.
class Area : public Quantity<Area> {
 public:
  [[nodiscard]] constexpr double m2() const { return si(); }
  [[nodiscard]] constexpr double cm2() const { return si() / 1e-4; }
  [[nodiscard]] constexpr double mm2() const { return si() / 1e-6; }
};
[[nodiscard]] constexpr Area square_metres(double value) { return Area::from_si(value); }
[[nodiscard]] constexpr Area square_centimetres(double value) {
  return Area::from_si(value * 1e-4);
}
[[nodiscard]] constexpr Area square_millimetres(double value) {
  return Area::from_si(value * 1e-6);
}

/// SI unit: m3.
class Volume : public Quantity<Volume> {
 public:
  [[nodiscard]] constexpr double m3() const { return si(); }
  [[nodiscard]] constexpr double mL() const { return si() / 1e-6; }
  [[nodiscard]] constexpr double L() const { return si() / 1e-3; }
};
[[nodiscard]] constexpr Volume cubic_metres(double value) { return Volume::from_si(value); }
[[nodiscard]] constexpr Volume millilitres(double value) { return Volume::from_si(value * 1e-6); }
[[nodiscard]] constexpr Volume litres(double value) { return Volume::from_si(value * 1e-3); }

/// A linear speed: of a plate's corner, or of an evaporating surface. SI unit: m/s.
class Velocity : public Quantity<Velocity> {
 public:
  [[nodiscard]] constexpr double m_per_s() const { return si(); }
  [[nodiscard]] constexpr double mm_per_s() const { return si() / 1e-3; }
  [[nodiscard]] constexpr double um_per_s() const { return si() / 1e-6; }
};
[[nodiscard]] constexpr Velocity metres_per_s(double value) { return Velocity::from_si(value); }
[[nodiscard]] constexpr Velocity millimetres_per_s(double value) {
  return Velocity::from_si(value * 1e-3);
}
[[nodiscard]] constexpr Velocity micrometres_per_s(double value) {
  return Velocity::from_si(value * 1e-6);
}

/// SI unit: kg.
class Mass : public Quantity<Mass> {
 public:
  [[nodiscard]] constexpr double kg() const { return si(); }
  [[nodiscard]] constexpr double g() const { return si() / 1e-3; }
  [[nodiscard]] constexpr double mg() const { return si() / 1e-6; }
};
[[nodiscard]] constexpr Mass kilograms(double value) { return Mass::from_si(value); }
[[nodiscard]] constexpr Mass grams(double value) { return Mass::from_si(value * 1e-3); }
[[nodiscard]] constexpr Mass milligrams(double value) { return Mass::from_si(value * 1e-6); }

/// SI unit: kg/m3.
class Density : public Quantity<Density> {
 public:
  [[nodiscard]] constexpr double kg_per_m3() const { return si(); }
  [[nodiscard]] constexpr double g_per_cm3() const { return si() / 1e3; }
};
[[nodiscard]] constexpr Density kg_per_m3(double value) { return Density::from_si(value); }
[[nodiscard]] constexpr Density g_per_cm3(double value) { return Density::from_si(value * 1e3); }

/// Mass of a foil or film on its area. SI unit: kg/m2.
class ArealDensity : public Quantity<ArealDensity> {
 public:
  [[nodiscard]] constexpr double kg_per_m2() const { return si(); }
  [[nodiscard]] constexpr double g_per_m2() const { return si() / 1e-3; }
};
[[nodiscard]] constexpr ArealDensity kg_per_m2(double value) {
  return ArealDensity::from_si(value);
}
[[nodiscard]] constexpr ArealDensity g_per_m2(double value) {
  return ArealDensity::from_si(value * 1e-3);
}

/// Dynamic viscosity. SI unit: Pa s.
class Viscosity : public Quantity<Viscosity> {
 public:
  [[nodiscard]] constexpr double Pa_s() const { return si(); }
  [[nodiscard]] constexpr double mPa_s() const { return si() / 1e-3; }
};
[[nodiscard]] constexpr Viscosity pascal_seconds(double value) { return Viscosity::from_si(value); }
[[nodiscard]] constexpr Viscosity millipascal_seconds(double value) {
  return Viscosity::from_si(value * 1e-3);
}

/// SI unit: Pa.
class Pressure : public Quantity<Pressure> {
 public:
  [[nodiscard]] constexpr double Pa() const { return si(); }
  [[nodiscard]] constexpr double kPa() const { return si() / 1e3; }
};
[[nodiscard]] constexpr Pressure pascals(double value) { return Pressure::from_si(value); }
[[nodiscard]] constexpr Pressure kilopascals(double value) {
  return Pressure::from_si(value * 1e3);
}

/// SI unit: N.
class Force : public Quantity<Force> {
 public:
  [[nodiscard]] constexpr double N() const { return si(); }
};
[[nodiscard]] constexpr Force newtons(double value) { return Force::from_si(value); }

/// SI unit: N m.
class Torque : public Quantity<Torque> {
 public:
  [[nodiscard]] constexpr double N_m() const { return si(); }
  [[nodiscard]] constexpr double mN_m() const { return si() / 1e-3; }
};
[[nodiscard]] constexpr Torque newton_metres(double value) { return Torque::from_si(value); }
[[nodiscard]] constexpr Torque millinewton_metres(double value) {
  return Torque::from_si(value * 1e-3);
}

/// SI unit: J.
class Energy : public Quantity<Energy> {
 public:
  [[nodiscard]] constexpr double J() const { return si(); }
};
[[nodiscard]] constexpr Energy joules(double value) { return Energy::from_si(value); }

/// Moment of inertia about the spindle's axis. SI unit: kg m2.
class Inertia : public Quantity<Inertia> {
 public:
  [[nodiscard]] constexpr double kg_m2() const { return si(); }
  [[nodiscard]] constexpr double g_mm2() const { return si() / 1e-9; }
};
[[nodiscard]] constexpr Inertia kg_m2(double value) { return Inertia::from_si(value); }
[[nodiscard]] constexpr Inertia g_mm2(double value) { return Inertia::from_si(value * 1e-9); }

/// Mass times offset from the axis, without its direction. SI unit: kg m.
class Unbalance : public Quantity<Unbalance> {
 public:
  [[nodiscard]] constexpr double kg_m() const { return si(); }
  [[nodiscard]] constexpr double g_mm() const { return si() / 1e-6; }
};
[[nodiscard]] constexpr Unbalance kilogram_metres(double value) {
  return Unbalance::from_si(value);
}
[[nodiscard]] constexpr Unbalance gram_millimetres(double value) {
  return Unbalance::from_si(value * 1e-6);
}

/// SI unit: kg/mol.
class MolarMass : public Quantity<MolarMass> {
 public:
  [[nodiscard]] constexpr double kg_per_mol() const { return si(); }
  [[nodiscard]] constexpr double g_per_mol() const { return si() / 1e-3; }
};
[[nodiscard]] constexpr MolarMass kg_per_mol(double value) { return MolarMass::from_si(value); }
[[nodiscard]] constexpr MolarMass g_per_mol(double value) {
  return MolarMass::from_si(value * 1e-3);
}

/// An activation energy or molar heat. SI unit: J/mol.
class MolarEnergy : public Quantity<MolarEnergy> {
 public:
  [[nodiscard]] constexpr double J_per_mol() const { return si(); }
  [[nodiscard]] constexpr double kJ_per_mol() const { return si() / 1e3; }
};
[[nodiscard]] constexpr MolarEnergy J_per_mol(double value) { return MolarEnergy::from_si(value); }
[[nodiscard]] constexpr MolarEnergy kJ_per_mol(double value) {
  return MolarEnergy::from_si(value * 1e3);
}

/// A latent heat. SI unit: J/kg.
class SpecificEnergy : public Quantity<SpecificEnergy> {
 public:
  [[nodiscard]] constexpr double J_per_kg() const { return si(); }
  [[nodiscard]] constexpr double kJ_per_kg() const { return si() / 1e3; }
};
[[nodiscard]] constexpr SpecificEnergy J_per_kg(double value) {
  return SpecificEnergy::from_si(value);
}

/// Heat that warms a kilogram by a kelvin. SI unit: J/(kg K).
class SpecificHeat : public Quantity<SpecificHeat> {
 public:
  [[nodiscard]] constexpr double J_per_kg_K() const { return si(); }
};
[[nodiscard]] constexpr SpecificHeat J_per_kg_K(double value) {
  return SpecificHeat::from_si(value);
}

/// Thermal conductivity. SI unit: W/(m K).
class Conductivity : public Quantity<Conductivity> {
 public:
  [[nodiscard]] constexpr double W_per_m_K() const { return si(); }
};
[[nodiscard]] constexpr Conductivity W_per_m_K(double value) {
  return Conductivity::from_si(value);
}

/// Heat passed by a surface a kelvin of difference. SI unit: W/(m2 K).
class HeatTransfer : public Quantity<HeatTransfer> {
 public:
  [[nodiscard]] constexpr double W_per_m2_K() const { return si(); }
};
[[nodiscard]] constexpr HeatTransfer W_per_m2_K(double value) {
  return HeatTransfer::from_si(value);
}

/// Mass diffusivity or kinematic viscosity. SI unit: m2/s.
class Diffusivity : public Quantity<Diffusivity> {
 public:
  [[nodiscard]] constexpr double m2_per_s() const { return si(); }
  [[nodiscard]] constexpr double cm2_per_s() const { return si() / 1e-4; }
  [[nodiscard]] constexpr double cSt() const { return si() / 1e-6; }
};
[[nodiscard]] constexpr Diffusivity m2_per_s(double value) { return Diffusivity::from_si(value); }
[[nodiscard]] constexpr Diffusivity cm2_per_s(double value) {
  return Diffusivity::from_si(value * 1e-4);
}
[[nodiscard]] constexpr Diffusivity centistokes(double value) {
  return Diffusivity::from_si(value * 1e-6);
}

/// SI unit: W/m2.
class Irradiance : public Quantity<Irradiance> {
 public:
  [[nodiscard]] constexpr double W_per_m2() const { return si(); }
  [[nodiscard]] constexpr double mW_per_cm2() const { return si() / 10.0; }
};
[[nodiscard]] constexpr Irradiance W_per_m2(double value) { return Irradiance::from_si(value); }
[[nodiscard]] constexpr Irradiance mW_per_cm2(double value) {
  return Irradiance::from_si(value * 10.0);
}

/// Radiant exposure. SI unit: J/m2.
class Dose : public Quantity<Dose> {
 public:
  [[nodiscard]] constexpr double J_per_m2() const { return si(); }
  [[nodiscard]] constexpr double mJ_per_cm2() const { return si() / 10.0; }
};
[[nodiscard]] constexpr Dose J_per_m2(double value) { return Dose::from_si(value); }
[[nodiscard]] constexpr Dose mJ_per_cm2(double value) { return Dose::from_si(value * 10.0); }

/// Heat that a plate takes up on its area. SI unit: J/(m2 K).
class ArealHeatCapacity : public Quantity<ArealHeatCapacity> {
 public:
  [[nodiscard]] constexpr double J_per_m2_K() const { return si(); }
  [[nodiscard]] constexpr double kJ_per_m2_K() const { return si() / 1e3; }
};
[[nodiscard]] constexpr ArealHeatCapacity J_per_m2_K(double value) {
  return ArealHeatCapacity::from_si(value);
}

/// A point on the temperature scale. Differences are taken in kelvin by the code that needs them,
/// so this one does not add. SI unit: K.
class Temperature {
 public:
  constexpr Temperature() = default;
  [[nodiscard]] constexpr double kelvin() const { return kelvin_; }
  [[nodiscard]] constexpr double celsius() const { return kelvin_ - kIcePoint; }
  [[nodiscard]] bool is_finite() const { return std::isfinite(kelvin_); }
  friend constexpr auto operator<=>(const Temperature&, const Temperature&) = default;
  [[nodiscard]] static constexpr Temperature from_kelvin(double k) {
    Temperature made;
    made.kelvin_ = k;
    return made;
  }
  static constexpr double kIcePoint = 273.15;

 private:
  double kelvin_ = kIcePoint + 25.0;
};
[[nodiscard]] constexpr Temperature kelvin(double value) { return Temperature::from_kelvin(value); }
[[nodiscard]] constexpr Temperature celsius(double value) {
  return Temperature::from_kelvin(value + Temperature::kIcePoint);
}

} // namespace whirler
