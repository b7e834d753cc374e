// What the readers' tests share: the smallest good file of each kind as a text to be hurt, and a
// look for a fault by its pointer.
#pragma once

#include "catch.hpp"
#include "whirler/files/read.hpp"

#include <algorithm>
#include <string>

inline const std::string kProfile = R"({"kind":"profile","format":1,"name":"thin","steps":[
{"name":"spread","speed_rpm":500,"ramp_rpm_s":500,"dwell_s":5},
{"name":"thin","speed_rpm":3000,"ramp_s":2.5,"dwell_s":45}],
"stop":{"ramp_rpm_s":1000}})";

inline const std::string kResist = R"({"kind":"resist","format":1,"name":"Amber",
"viscosity_mPa_s":25,"at_C":23,"density_g_cm3":1.02,"solids_mass_fraction":0.36,
"solids_density_g_cm3":1.2,"solvent":"pgmea"})";

inline const std::string kBlank = R"({"kind":"blank","format":1,"name":"gauge",
"outline":{"rectangle_mm":[100,80]},"thickness_mm":1.6,"copper_um":[35,18],
"laminate_density_g_cm3":1.9,"hole":{"diameter_mm":4.2,"at_mm":[0.6,-0.3]}})";

inline const std::string kMachine = R"({"kind":"machine","format":1,"name":"bench",
"drive":{"type":"link","port":"/dev/ttyUSB0","baud":115200},"direction":"ccw",
"tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,"sensor_on":"sprung"},
"lid":"wired_to_drive","air":"vented",
"limits":{"speed_rpm":6000,"speed_min_rpm":200,"ramp_rpm_s":3000,"balance_grade_mm_s":6.3},
"rotor":{"mass_g":300,"inertia_kg_m2":1e-4},
"motor":{"torque_N_m":0.1,"current":"brushed"},
"mount":{"natural_hz":15,"damping":0.08,"moving_mass_g":600},
"jitter":{"watch_mm_s":6.3,"stop_mm_s":40,"watch_mrad":3,"stop_mrad":9}})";

/// `text` with the first `from` made `to`.
inline std::string with(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

inline std::vector<whirler::files::FileFault> faults_in(const std::string& text) {
  const auto read = whirler::files::read_any(text, "f.json");
  if (read)
    return {};
  return read.faults();
}

/// The only fault of a text that has exactly one.
inline whirler::files::FileFault only_fault(const std::string& text) {
  const auto faults = faults_in(text);
  CAPTURE(text);
  for (const auto& fault : faults)
    UNSCOPED_INFO(to_text(fault));
  REQUIRE(faults.size() == 1);
  CHECK(faults.front().file == "f.json");
  CHECK_FALSE(faults.front().found.empty());
  CHECK_FALSE(faults.front().allowed.empty());
  return faults.front();
}
