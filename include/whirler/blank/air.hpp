// What the air does to a turning plate: drag, and where its flow stops being even.
//
// The air over a disc in the open turns with it in a layer of even thickness (von Karman 1921).
// Local friction there is 0.616 rho (nu omega^3)^(1/2) r, so a plate of any outline feels
// 1.232 rho (nu omega^3)^(1/2) times its second moment of area about the axis, both faces: the
// disc of that second moment (`Properties::drag_radius`) stands for the plate. What corners do
// by paddling is not in it, so a square plate in truth takes somewhat more.
#pragma once

#include "whirler/blank/properties.hpp"

namespace whirler::blank {

/// Still air around the plate. Dry air at 25 C and 101.3 kPa (handbook values; from memory).
struct Air {
  Density density = kg_per_m3(1.184);
  Diffusivity kinematic_viscosity = m2_per_s(1.56e-5);
};

/// Reynolds numbers omega r^2 / nu between which the flow over a disc turns turbulent: spiral
/// vortices at the first, fully turbulent past the second (Schlichting, Boundary-Layer Theory).
inline constexpr double kReynoldsOnset = 1.9e5;
inline constexpr double kReynoldsTurbulent = 3.0e5;

struct TurbulentZone {
  Length onset; ///< outside this the film may show spiral streaks
  Length full;  ///< outside this the flow is turbulent
};
/// Faults (input): a speed that is not finite and above zero.
[[nodiscard]] Result<TurbulentZone> turbulent_zone(Speed speed, const Air& air = {});

/// Torque of the air on both faces of a disc of this radius. Moment coefficients
/// C_M = M/(rho omega^2 R^5/2): laminar 3.87 Re^(-1/2), turbulent 0.146 Re^(-1/5) (Schlichting;
/// from memory). Past `kReynoldsTurbulent` the disc is laminar inside, turbulent outside. Zero at
/// standstill.
[[nodiscard]] Torque disc_drag(Length radius, Speed speed, const Air& air = {});
[[nodiscard]] Torque air_drag(const Properties& plate, Speed speed, const Air& air = {});

} // namespace whirler::blank
