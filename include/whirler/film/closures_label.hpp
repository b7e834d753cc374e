// From the bottle's label and the room to the numbers that the solver's closures need.
//
// Decisions where physics leaves a choice:
//   - phi0, the solids' share of the volume, comes from the solids' mass and the two densities,
//     volumes adding. The label's own density is not used for it: a density that disagrees would
//     move the film in proportion, and labels round it. Past 5 % a warning names both.
//   - Martin's B comes from the bottle's viscosity at the label's temperature. A bottle that is
//     thinner than 1.25 times its solvent is taken as that: no dissolved solid thins its solvent.
//   - One activation energy for the whole film, dry or wet.
//   - Gas properties at the room's temperature; a(Sc) and a(Pr) are taken once for a room and kept
//     when the interval nudges the temperature: they change by 1e-4 a kelvin.
//   - Specific heat of the solids 1.5 kJ/(kg K). [common practice, no source]
//   - A solvent's far pressure is its share by volume of what the air holds; water's is the
//     room's humidity, whatever its share.
#pragma once

#include "whirler/film/air.hpp"
#include "whirler/film/closures.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace whirler::film {

/// The plate under the film.
struct PlateHeat {
  /// rho c_p thickness of all layers. 3.0 kJ/(m2 K): 1.6 mm of glass-epoxy with two foils.
  ArealHeatCapacity capacity = J_per_m2_K(3000.0);
  double faces = 2.0; ///< that the air cools: 2, or 1 where the back is covered
};

namespace thinning {

inline constexpr std::size_t kMostSolvents = 4;

/// One solvent of the label, with what is costly to compute kept. Inner numbers, SI.
struct LabelSolvent {
  const Solvent* solvent = nullptr;
  double volume_share = 1.0;
  double mole_share = 1.0;
  double still_m = 0.0; ///< k at rest/D [1/m]
  double number = 0.0;  ///< a(Sc)
};

/// The label and the room, checked and looked up. The doubles may be nudged.
struct Label {
  double viscosity_Pa_s = 0.0;
  double viscosity_K = 0.0;
  double solids_mass = 1.0;
  double solids_kg_m3 = 1000.0;
  double density_kg_m3 = 1000.0; ///< used where there is no solvent
  double chi = 0.4;
  double martin_k = 0.4;
  double arrhenius_K = 0.0;
  std::size_t count = 0; ///< of solvents
  std::array<LabelSolvent, kMostSolvents> solvents{};
  double heat_still_m = 0.0;     ///< h at rest/conductivity [1/m]
  double heat_number = 0.0;      ///< a(Pr)
  std::optional<PowerLaw> power; ///< none for a viscosity that does not depend on the shear
  Air air;
  PlateHeat plate;
};

/// Faults (input): check_liquid's, check_air's, a liquid that boils in this room, more than four
/// solvents, a plate without heat capacity or with no face to the air, a power law whose numbers
/// are not above 0. A power law of exponent 1 becomes the viscosity.
[[nodiscard]] Result<Label> read_label(const Resist& resist, const Air& air,
                                       const PlateHeat& plate);

/// What of the label contradicts itself, one sentence each; empty: nothing.
[[nodiscard]] std::vector<std::string> label_warnings(const Resist& resist, const Label& label);

/// B of eta/eta_s = 1 + B exp(k B); `ratio` above 1.
[[nodiscard]] double martin_b(double ratio, double k);

/// The viscosity that no shear thins the liquid below: its solvent's, or 1 mPa s where it has none.
[[nodiscard]] double thinnest_Pa_s(const Label& label);

template <std::size_t N>
[[nodiscard]] DryingClosures<N> drying_closures(const Label& label);
extern template DryingClosures<1> drying_closures<1>(const Label&);
extern template DryingClosures<2> drying_closures<2>(const Label&);
extern template DryingClosures<3> drying_closures<3>(const Label&);
extern template DryingClosures<4> drying_closures<4>(const Label&);

[[nodiscard]] WetClosures wet_closures(const Label& label);

/// Calls `use` with the closures that fit the label: the one place where the count of solvents
/// becomes a type.
template <class Use>
auto with_closures(const Label& label, Use&& use) {
  switch (label.count) {
  case 0:
    return use(wet_closures(label));
  case 1:
    return use(drying_closures<1>(label));
  case 2:
    return use(drying_closures<2>(label));
  case 3:
    return use(drying_closures<3>(label));
  default:
    return use(drying_closures<4>(label));
  }
}

} // namespace thinning
} // namespace whirler::film
