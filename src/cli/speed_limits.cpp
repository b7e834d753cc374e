#include "speed_limits.hpp"

#include "farthest_out.hpp"
#include "whirler/balance/tolerance.hpp"
#include "whirler/blank/air.hpp"
#include "whirler/film/air.hpp"

namespace whirler::cli {
namespace {

/// A corner at this speed leaves a broken plate with the energy of a thrown stone: 24 g at 50 m/s
/// are 30 J. [common practice, no source]
constexpr Velocity kFastCorner = metres_per_s(50.0);

void add_machine(std::vector<film::SpeedLimit>& limits, const machine::Machine& machine) {
  limits.push_back({"machine", machine.limits.speed, true, true, "the machine's highest speed"});
  limits.push_back(
      {"speed_min", machine.limits.speed_min, false, true, "the machine's lowest speed"});
}

Outcome add_grade(std::vector<film::SpeedLimit>& limits, const Plate& plate) {
  if (!plate.machine || !plate.properties || !plate.machine->limits.balance_grade)
    return Done{};
  const auto highest =
      balance::highest_speed(plate.properties->unbalance_at_most,
                             *plate.machine->limits.balance_grade, plate.turning_mass());
  if (!highest)
    return highest.fault();
  if (*highest)
    limits.push_back({"balance_grade", **highest, true, true,
                      "the balance grade's highest speed for this off-centre plate"});
  return Done{};
}

void add_plate(std::vector<film::SpeedLimit>& limits, const blank::Properties& plate,
               const std::string& farthest, Temperature air) {
  const double r = plate.corner_radius.m();
  const double nu = film::air_kinematic_viscosity(air).m2_per_s();
  limits.push_back({"laminar", rad_per_s(blank::kReynoldsOnset * nu / (r * r)), true, false,
                    "even air out to the plate's " + farthest});
  limits.push_back({"corner_speed", rad_per_s(kFastCorner.m_per_s() / r), true, false,
                    "50 m/s at the plate's " + farthest});
}

} // namespace

Result<std::vector<film::SpeedLimit>> speed_limits(const Plate& plate, Temperature air) {
  std::vector<film::SpeedLimit> limits;
  if (plate.machine)
    add_machine(limits, *plate.machine);
  if (auto graded = add_grade(limits, plate); !graded)
    return graded.fault();
  if (plate.properties)
    add_plate(limits, *plate.properties, farthest_out(*plate.blank), air);
  return limits;
}

Json to_json(const std::vector<film::SpeedLimit>& limits) {
  Json list = Json::array();
  for (const film::SpeedLimit& limit : limits)
    list.push_back({{"name", limit.name},
                    {"speed_rpm", rounded(limit.speed.rpm())},
                    {"kind", limit.highest ? "highest" : "lowest"},
                    {"hard", limit.hard},
                    {"why", limit.why}});
  return list;
}

} // namespace whirler::cli
