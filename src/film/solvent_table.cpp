// The numbers. Marks: [pub] published, [mem] remembered, to be taken as a plausible middle.
//
// Drying and flow [pub]: Perry's Chemical Engineers' Handbook 8th ed., VDI Heat Atlas and Poling,
// Prausnitz, O'Connell 5th ed., as carried by the open data library CalebBell/chemicals;
// diffusivity in air at 25 C and 1 atm by Fuller's method. Where the Antoine line and a printed
// pressure differ (butyl acetate, anisole, chlorobenzene: 3 to 7 %) the line is used. Flash point
// and lower limit [pub]: IEC 60079-20-1:2010 as carried by the same library; NFPA 497 gives the
// same within 2 K and 0.5 % of volume, and the lower limit of the two is taken. The others [mem]:
// safety data sheets and the International Chemical Safety Cards, the lowest value seen. Specific
// heat: toluene and chlorobenzene from the CRC Handbook [pub], all others [mem]; the liquid film is
// a thousandth of the plate's heat, so a tenth of error does not show.
#include "whirler/film/solvents.hpp"

#include <array>
#include <cmath>

namespace whirler::film {
namespace {

constexpr double kKelvin20 = 293.15;
constexpr double kKelvin25 = 298.15;

constexpr std::string_view kHandbook =
    "Perry 8th ed., VDI Heat Atlas, Poling 5th ed. (data library CalebBell/chemicals)";
constexpr std::string_view kPartlyRemembered =
    "Antoine line as Perry/VDI/Poling; density or viscosity from memory";
constexpr std::string_view kPgmeaSource =
    "two-point Clausius line through 507 Pa at 25 C and the boiling point of 145.8 C; density at "
    "20 C published; viscosity and the density's slope from memory";
constexpr std::string_view kIec = "IEC 60079-20-1:2010";
constexpr std::string_view kRemembered = "safety data sheets, from memory";
constexpr std::string_view kCardAndMemory =
    "International Chemical Safety Card 0800 (flash point); limit from memory";

/// Andrade's energy from the viscosities at 20 and 25 C [mPa s].
ViscosityLine two_points(double mPa_s_at_20, double mPa_s_at_25) {
  const double energy =
      kGasConstant * std::log(mPa_s_at_20 / mPa_s_at_25) / (1.0 / kKelvin20 - 1.0 / kKelvin25);
  return {millipascal_seconds(mPa_s_at_20), J_per_mol(energy)};
}

/// One remembered viscosity, with the slope of its class of liquid.
ViscosityLine one_point(double mPa_s_at_20, double energy_kJ_per_mol) {
  return {millipascal_seconds(mPa_s_at_20), kJ_per_mol(energy_kJ_per_mol)};
}

/// The Clausius line through 507 Pa at 25 C and one atmosphere at 145.8 C: log10 p = a - b/T. No
/// Antoine line is published for this solvent in the handbooks named above. It gives 371 Pa at 20 C
/// (data sheets, from memory: about 370) and a heat of 45.5 kJ/mol.
Antoine pgmea_line() {
  const double boiling = celsius(145.8).kelvin();
  const double b = std::log10(kAtmosphere.Pa() / 507.0) / (1.0 / kKelvin25 - 1.0 / boiling);
  return {std::log10(507.0) + b / kKelvin25, b, 0.0};
}

DensityLine density_line(double kg_per_m3_at_20, double kg_per_m3_at_25) {
  return {kg_per_m3(kg_per_m3_at_20), kg_per_m3(kg_per_m3_at_25)};
}

Solvent acetone() {
  return {"acetone",
          "acetone",
          g_per_mol(58.08),
          density_line(792, 786),
          two_points(0.322, 0.307),
          {9.2184, 1197.01, -45.09},
          cm2_per_s(0.1058),
          J_per_kg_K(2175),
          true,
          celsius(-20),
          0.025,
          kHandbook,
          kIec};
}

Solvent anisole() {
  return {"anisole",
          "anisole",
          g_per_mol(108.14),
          density_line(995.1, 990.6),
          two_points(1.105, 1.023),
          {9.1740, 1487.90, -69.762},
          cm2_per_s(0.0773),
          J_per_kg_K(1840),
          true,
          celsius(43),
          0.012,
          kHandbook,
          kRemembered};
}

Solvent butyl_acetate() {
  return {"butyl_acetate",
          "n-butyl acetate",
          g_per_mol(116.16),
          density_line(880.9, 875.9),
          two_points(0.725, 0.677),
          {9.5, 1596.7, -43.85},
          cm2_per_s(0.0722),
          J_per_kg_K(1961),
          true,
          celsius(22),
          0.012,
          kHandbook,
          kIec};
}

Solvent chlorobenzene() {
  return {"chlorobenzene",
          "chlorobenzene",
          g_per_mol(112.56),
          density_line(1105.5, 1100.4),
          two_points(0.801, 0.755),
          {9.02012, 1378.79, -61.45},
          cm2_per_s(0.0793),
          J_per_kg_K(1334),
          true,
          celsius(28),
          0.013,
          kHandbook,
          kIec};
}

Solvent cyclopentanone() {
  return {"cyclopentanone",
          "cyclopentanone",
          g_per_mol(84.12),
          density_line(949, 944),
          one_point(1.2, 11.0),
          {9.2305, 1472.49, -55.125},
          cm2_per_s(0.0909),
          J_per_kg_K(1837),
          true,
          celsius(26),
          0.015,
          kPartlyRemembered,
          kRemembered};
}

Solvent ethanol() {
  return {"ethanol",
          "ethanol",
          g_per_mol(46.07),
          density_line(790.3, 785.9),
          two_points(1.19, 1.08),
          {10.33675, 1648.22, -42.232},
          cm2_per_s(0.1225),
          J_per_kg_K(2438),
          true,
          celsius(12),
          0.031,
          kHandbook,
          kIec};
}

Solvent ethyl_lactate() {
  return {"ethyl_lactate",
          "ethyl lactate",
          g_per_mol(118.13),
          density_line(1034, 1028),
          two_points(2.74, 2.38),
          {9.5796, 1628.93, -69.623},
          cm2_per_s(0.0757),
          J_per_kg_K(2150),
          true,
          celsius(46),
          0.015,
          kPartlyRemembered,
          kRemembered};
}

Solvent methoxypropanol() {
  return {"methoxypropanol",
          "1-methoxy-2-propanol",
          g_per_mol(90.12),
          density_line(921, 917),
          one_point(1.8, 17.0),
          {10.0023, 1786.06, -35.329},
          cm2_per_s(0.0850),
          J_per_kg_K(2390),
          true,
          celsius(31),
          0.015,
          kPartlyRemembered,
          kRemembered};
}

Solvent pgmea() {
  return {"pgmea",
          "1-methoxy-2-propyl acetate (PGMEA)",
          g_per_mol(132.16),
          density_line(968, 963),
          one_point(1.15, 11.0),
          pgmea_line(),
          cm2_per_s(0.0700),
          J_per_kg_K(1900),
          true,
          celsius(42),
          0.015,
          kPgmeaSource,
          kCardAndMemory};
}

Solvent toluene() {
  return {"toluene",
          "toluene",
          g_per_mol(92.14),
          density_line(868.5, 863.9),
          two_points(0.588, 0.554),
          {9.05043, 1327.62, -55.525},
          cm2_per_s(0.0805),
          J_per_kg_K(1707),
          true,
          celsius(4),
          0.010,
          kHandbook,
          kIec};
}

Solvent water() {
  return {"water",
          "water",
          g_per_mol(18.02),
          density_line(998.2, 997.0),
          two_points(1.002, 0.890),
          {10.11564, 1687.537, -42.98},
          cm2_per_s(0.250),
          J_per_kg_K(4181),
          false,
          celsius(0),
          0.0,
          kHandbook,
          "does not burn"};
}

} // namespace

std::span<const Solvent> solvents() {
  static const std::array<Solvent, 11> table = {
      acetone(),        anisole(), butyl_acetate(), chlorobenzene(),
      cyclopentanone(), ethanol(), ethyl_lactate(), methoxypropanol(),
      pgmea(),          toluene(), water()};
  return table;
}

} // namespace whirler::film
