// What both ways of balancing ask of their input, and how both write their answer.
#pragma once

#include "whirler/balance/influence.hpp"

namespace whirler::balance {

[[nodiscard]] Outcome check_masses(const PlacedMass& trial, Length radius,
                                   const ReadingQuality& quality);

/// The mass at `radius` that makes this unbalance.
[[nodiscard]] PlacedMass mass_for(std::complex<double> correction_kg_m, Length radius);

} // namespace whirler::balance
