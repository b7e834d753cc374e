#include "catch.hpp"
#include "whirler/film/solvents.hpp"

#include <cmath>
#include <vector>

using namespace whirler;
using namespace whirler::film;

namespace {

const Solvent& solvent(std::string_view name) {
  const auto found = find_solvent(name);
  REQUIRE(found.ok());
  return **found;
}

} // namespace

TEST_CASE("published: Antoine lines give the handbook's pressures at 20 and 25 C") {
  // CRC Handbook / Perry 8th ed. vapour pressures in Pa. Where the line and the printed value
  // differ by over 2 % (butyl acetate, anisole, chlorobenzene) the line's own value is listed:
  // that row only guards the coefficients against a slip of the pen.
  struct Row {
    const char* name;
    double at_20;
    double at_25;
    double tolerance;
  };
  const std::vector<Row> rows = {
      {"toluene", 2907, 3789, 0.01},       {"acetone", 24712, 30779, 0.01},
      {"ethanol", 5861, 7876, 0.01},       {"water", 2339, 3170, 0.01},
      {"butyl_acetate", 1245, 1664, 0.01}, {"chlorobenzene", 1173, 1567, 0.01},
      {"anisole", 326, 456, 0.01},         {"cyclopentanone", 1107, 1484, 0.01},
      {"ethyl_lactate", 196, 283, 0.01},   {"methoxypropanol", 1188, 1609, 0.01},
      {"pgmea", 370, 507, 0.01},
  };
  REQUIRE(rows.size() == solvents().size());
  for (const Row& row : rows) {
    CAPTURE(row.name);
    const Solvent& s = solvent(row.name);
    CHECK(s.vapour_pressure(celsius(20)).Pa() == Approx(row.at_20).epsilon(row.tolerance));
    CHECK(s.vapour_pressure(celsius(25)).Pa() == Approx(row.at_25).epsilon(row.tolerance));
  }
}

TEST_CASE("published: Antoine lines reach one atmosphere at the known boiling points") {
  // CRC Handbook normal boiling points [C]. The lines are extrapolated far above room temperature
  // here, so a kelvin and a half is allowed.
  const std::vector<std::pair<const char*, double>> rows = {
      {"toluene", 110.6},       {"acetone", 56.1},  {"ethanol", 78.3}, {"water", 100.0},
      {"chlorobenzene", 131.7}, {"anisole", 153.7}, {"pgmea", 145.8},  {"cyclopentanone", 130.6}};
  for (const auto& [name, boils] : rows) {
    CAPTURE(name);
    CHECK(solvent(name).boiling_point().celsius() == Approx(boils).margin(1.5));
  }
}

TEST_CASE("published: latent heats from the slope agree with measured ones at 25 C") {
  // CRC Handbook enthalpies of vaporisation at 25 C [kJ/mol]: water 43.98, ethanol 42.32, toluene
  // 38.01, acetone 30.99. Ideal vapour and Antoine slope: within 4 %.
  const std::vector<std::pair<const char*, double>> rows = {
      {"water", 43.98}, {"ethanol", 42.32}, {"toluene", 38.01}, {"acetone", 30.99}};
  for (const auto& [name, kilojoules] : rows) {
    CAPTURE(name);
    const Solvent& s = solvent(name);
    const double per_mol = s.latent_heat(celsius(25)).J_per_kg() * s.molar_mass.kg_per_mol();
    CHECK(per_mol / 1e3 == Approx(kilojoules).epsilon(0.04));
  }
}

TEST_CASE("published: density and viscosity pass through both handbook points") {
  // CRC Handbook: toluene 863.9 kg/m3 and 0.554 mPa s, water 997.0 and 0.890, at 25 C.
  CHECK(solvent("toluene").density(celsius(25)).kg_per_m3() == Approx(863.9).epsilon(1e-9));
  CHECK(solvent("toluene").viscosity(celsius(25)).mPa_s() == Approx(0.554).epsilon(1e-9));
  CHECK(solvent("water").density(celsius(25)).kg_per_m3() == Approx(997.0).epsilon(1e-9));
  CHECK(solvent("water").viscosity(celsius(25)).mPa_s() == Approx(0.890).epsilon(1e-9));
  // Water outside the two points, IAPWS 2008: 1.1375 mPa s at 15 C, 0.7972 at 30 C.
  CHECK(solvent("water").viscosity(celsius(15)).mPa_s() == Approx(1.1375).epsilon(0.01));
  CHECK(solvent("water").viscosity(celsius(30)).mPa_s() == Approx(0.7972).epsilon(0.01));
}

TEST_CASE("film: every solvent's numbers are those of a liquid at room temperature") {
  for (const Solvent& s : solvents()) {
    CAPTURE(std::string(s.name));
    CHECK(s.boiling_point().celsius() > 50.0);
    CHECK(s.density(celsius(22)).kg_per_m3() > 700.0);
    CHECK(s.viscosity(celsius(30)) < s.viscosity(celsius(10)));
    CHECK(s.diffusivity(celsius(30)) > s.diffusivity(celsius(20)));
    CHECK(s.burns == (s.lower_flammable_limit > 0.0));
    CHECK_FALSE(s.source.empty());
    CHECK_FALSE(s.safety_source.empty());
  }
}

TEST_CASE("film: an unknown solvent is refused with the list of those that are known") {
  const auto found = find_solvent("pgmeaa");
  REQUIRE_FALSE(found.ok());
  CHECK(found.fault().kind == FaultKind::input);
  CHECK_THAT(found.fault().next, Catch::Matchers::ContainsSubstring("pgmea, toluene, water"));
}

TEST_CASE("film: a mixture's shares are normalised and its moles counted") {
  const std::vector<SolventShare> shares = {{"water", 0.5}, {"ethanol", 0.5}};
  const auto parts = find_solvents(shares);
  REQUIRE(parts.ok());
  // 0.5/18.02 : 0.5/46.07
  CHECK((*parts)[0].mole_share == Approx(46.07 / (18.02 + 46.07)).epsilon(1e-12));
  CHECK((*parts)[0].mass_share + (*parts)[1].mass_share == Approx(1.0).epsilon(1e-15));
  // Volumes add: 2/(1/998.2 + 1/790.3) at 20 C.
  CHECK(mixture_density(*parts, celsius(20)).kg_per_m3() ==
        Approx(2.0 / (1.0 / 998.2 + 1.0 / 790.3)).epsilon(1e-12));
  const double water = solvent("water").viscosity(celsius(20)).Pa_s();
  const double ethanol = solvent("ethanol").viscosity(celsius(20)).Pa_s();
  const double mixed = mixture_viscosity(*parts, celsius(20)).Pa_s();
  CHECK(mixed > std::min(water, ethanol));
  CHECK(mixed < std::max(water, ethanol));
}

TEST_CASE("film: impossible mixtures are refused, each with its own reason") {
  using Shares = std::vector<SolventShare>;
  const auto reason = [](const Shares& shares) {
    const auto parts = find_solvents(shares);
    REQUIRE_FALSE(parts.ok());
    return parts.fault().what;
  };
  CHECK_THAT(reason({{"water", 0.5}, {"ethanol", 0.2}}),
             Catch::Matchers::ContainsSubstring("sum to 0.7"));
  CHECK_THAT(reason({{"water", 1.2}, {"ethanol", -0.2}}),
             Catch::Matchers::ContainsSubstring("-0.2"));
  CHECK_THAT(reason({{"watter", 1.0}}), Catch::Matchers::ContainsSubstring("watter"));
  CHECK(find_solvents(Shares{}).value().empty());
}

TEST_CASE("film: a solvent is found by the names that labels use, however they are spelt") {
  const std::pair<const char*, const char*> spellings[] = {
      {"n-butyl acetate", "butyl_acetate"},
      {"Butyl Acetate", "butyl_acetate"},
      {"ethyl lactate", "ethyl_lactate"},
      {"1-methoxy-2-propanol", "methoxypropanol"},
      {"PGME", "methoxypropanol"},
      {"1-methoxy-2-propyl acetate", "pgmea"},
      {"PGMEA", "pgmea"},
      {"propylene glycol monomethyl ether acetate", "pgmea"},
      {"Water", "water"}};
  for (const auto& [spelt, name] : spellings) {
    CAPTURE(spelt);
    CHECK(solvent(spelt).name == name);
  }
  for (const char* wrong : {"", "-", "n-", "butyl", "acetat"})
    CHECK_FALSE(find_solvent(wrong).ok());
}
