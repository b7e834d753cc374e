// The three liquids and the profile of the reference runs. Closures for these numbers only: no
// glass factor, Martin's k 0.35, no vapour in the air, one face cooled, 2960 J/(m2 K) of plate.
// [math]: the reference numbers come from CVODE at 1e-12 and an independent integrator, which agree
// to nine digits; the constants that they leave open are named below.
#pragma once

#include "whirler/film/closures_label.hpp"
#include "whirler/film/disc_transfer.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <cmath>

namespace whirler::film::thinning::testing {

using Reference = DryingClosures<1, false>;

/// PGMEA at 25 C: 0.522 um/s at 3000 rpm [math]. Left open by the source of the numbers, and so
/// good for a few parts in ten thousand: density 963 kg/m3, viscosity 1.1 mPa s, latent heat of
/// 45 kJ/mol through the vapour pressure's slope, heat capacities 1.5 and 1.9 kJ/(kg K).
inline Reference reference_closures(double solids_mass, Viscosity bottle, MolarEnergy activation) {
  constexpr double kRoom_K = 298.15, kSolvent_kg_m3 = 963.0, kSolids_kg_m3 = 1200.0;
  constexpr double kSolvent_Pa_s = 1.1e-3, kMolar_kg = 0.13216, kVapour_Pa = 507.0;
  constexpr double kAir_m2_s = 1.56e-5, kAir_W_m_K = 0.026;
  constexpr double kLatent_J_mol = 45e3, kSpeed_m_s = 0.522e-6;
  Reference c;
  const double solids = solids_mass / kSolids_kg_m3;
  c.start_phi = solids / (solids + (1.0 - solids_mass) / kSolvent_kg_m3);
  c.base_mobility = 1.0 / (3.0 * kSolvent_Pa_s);
  c.martin_k = 0.35;
  c.martin_b = martin_b(bottle.Pa_s() / kSolvent_Pa_s, c.martin_k) / c.start_phi;
  c.density_solids = kSolids_kg_m3;
  c.density_solvent = kSolvent_kg_m3;
  c.arrhenius_K = activation.J_per_mol() / kGasConstant;
  c.label_K = kRoom_K;
  const double heat = disc_transfer(0.71) * kAir_W_m_K;
  c.heat_pumped2 = heat * heat / kAir_m2_s;
  SolventLaw& s = c.solvent[0];
  s.gas = kMolar_kg / (kSolvent_kg_m3 * kGasConstant * kRoom_K);
  s.still2 = 7e-4 * 7e-4;
  const double k = kSpeed_m_s / (s.gas * kVapour_Pa);
  s.pumped2 = (k * k - s.still2) / rpm(3000).rad_per_s();
  s.antoine_b = kLatent_J_mol / kGasConstant;
  s.antoine_a = std::log(kVapour_Pa) + s.antoine_b / kRoom_K;
  c.share = {1.0};
  c.store.plate = 2960.0;
  c.store.solids = kSolids_kg_m3 * 1.5e3;
  c.store.solvent = {kSolvent_kg_m3 * 1.9e3};
  c.store.latent = {kSolvent_kg_m3 * kLatent_J_mol / kMolar_kg};
  c.store.air_K = kRoom_K;
  return c;
}

inline Reference thin_reference() {
  return reference_closures(0.36, millipascal_seconds(25), kJ_per_mol(20));
}
inline Reference thick_reference() {
  return reference_closures(0.60, pascal_seconds(1.25), kJ_per_mol(35));
}
inline WetClosures wet_reference() {
  WetClosures c;
  c.base_mobility = 1000.0 / (3.0 * 1.0);
  return c;
}

/// Up to a spread at 500 rpm, up to speed, dwell, down, all at one slope, and a rest of 4 s.
struct Coat {
  double top_rpm = 3000, ramp_rpm_s = 1000, spread_s = 5, dwell_s = 45;
  [[nodiscard]] SpeedCurve curve() const {
    const double up = 500 / ramp_rpm_s;
    const double spread_end = up + spread_s;
    const double top = spread_end + (top_rpm - 500) / ramp_rpm_s;
    const double stop = top + dwell_s + top_rpm / ramp_rpm_s;
    return {{seconds(0), rpm(0)},
            {seconds(up), rpm(500)},
            {seconds(spread_end), rpm(500)},
            {seconds(top), rpm(top_rpm)},
            {seconds(top + dwell_s), rpm(top_rpm)},
            {seconds(stop), rpm(0)},
            {seconds(stop + 4), rpm(0)}};
  }
  [[nodiscard]] std::vector<Piece> pieces() const { return pieces_of(curve()).value(); }
};

} // namespace whirler::film::thinning::testing
