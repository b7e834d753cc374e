// Text of a file to the value that it describes. The text is JSON with // and /* */ comments;
// "kind" stands first and "format": 1 second, so that a person and a program both see at the first
// line what they hold. Keys carry their unit. Unknown and repeated keys are mistakes: a misspelt
// limit that is quietly ignored is worse than a refused file.
//
// What a kind's file may and must say is a table in src/files/<kind>_file.cpp, read by one small
// interpreter (src/files/schema.hpp). Rejected: filling structs from nlohmann's document type,
// which has no positions and throws at the first mistake.
//
// Size: at most 1 MiB of text, 32 levels and 100 000 values; beyond it the file is refused before
// memory is spent on it.
#pragma once

#include "whirler/blank/blank.hpp"
#include "whirler/exposure/wedge.hpp"
#include "whirler/files/board.hpp"
#include "whirler/files/calibration.hpp"
#include "whirler/files/file_fault.hpp"
#include "whirler/film/resist.hpp"
#include "whirler/machine/machine.hpp"
#include "whirler/modbus/description.hpp"
#include "whirler/profile/profile.hpp"

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace whirler::files {

/// A resist file also carries what its user measured under the lamp.
struct ResistFile {
  film::Resist resist;
  std::vector<exposure::Wedge> wedges; ///< "wedge": one, or an array of several films' wedges
};

using AnyFile = std::variant<profile::Profile, ResistFile, blank::Blank, machine::Machine,
                             CalibrationFile, modbus::Description, Board>;

/// `file` names the text in faults. Every reader refuses another kind than its own.
///
/// Required: steps (each speed_rpm, ramp_rpm_s or ramp_s, dwell_s), stop.ramp_rpm_s.
/// Optional: name; a step's name.
[[nodiscard]] Read<profile::Profile> read_profile(std::string_view text, const std::string& file);

/// Required: viscosity_mPa_s, density_g_cm3, solids_mass_fraction, solvent (null: does not dry, and
/// then solids_mass_fraction is 1), and solids_density_g_cm3 where there is a solvent.
/// Optional: name; at_C (25, the label's custom); activation_energy_kJ_mol, chi, martin_k,
/// power_law, witness, wedge. Shares of a solvent mixture come back summing to 1 exactly.
[[nodiscard]] Read<ResistFile> read_resist(std::string_view text, const std::string& file);

/// Required: outline, thickness_mm, copper_um, hole (diameter_mm, and at_mm or edge_distances_mm;
/// the distances may also stand beside "hole"). Optional: name; laminate_density_g_cm3 (1.85);
/// holes.
[[nodiscard]] Read<blank::Blank> read_blank(std::string_view text, const std::string& file);

/// Required: drive.type, drive.port unless the drive is simulated, direction, tach (all four keys),
/// lid, air, limits.speed_rpm, .speed_min_rpm, .ramp_rpm_s, rotor.
/// Optional: name; drive.baud (500000); limits.balance_grade_mm_s; motor, mount, jitter. A Modbus
/// drive: drive.description required; drive.baud (19200), .parity ("even"), .stop_bits (1, or 2
/// without parity), .unit (the description's), .tach_port, .tach_baud (500000).
[[nodiscard]] Read<machine::Machine> read_machine(std::string_view text, const std::string& file);

/// Required: name, target, actual (each with address and scale_rpm; actual also "from"), fault,
/// and "run", or both of "start" and "stop". Optional: unit (1), reply, read_function (3),
/// write_function (6), word_order ("high_first"), slope, slope_down, direction, fault_code,
/// fault_reset or "clear", running, dead_man, limits, setup, cut. Coils and discrete inputs may
/// stand for run, direction, fault, fault_reset, running and in sequences. A file that cannot stop
/// the drive, starts it before the run, or contradicts itself is refused.
[[nodiscard]] Read<modbus::Description> read_drive(std::string_view text, const std::string& file);

/// Required: name, resist, blank, machine (paths), and target_um or profile.
/// Optional: sides (["side one", "side two"]), spread, dwell_s, lamp_mW_cm2.
[[nodiscard]] Read<Board> read_board(std::string_view text, const std::string& file);

/// Reads the file as the kind that it says it is.
[[nodiscard]] Read<AnyFile> read_any(std::string_view text, const std::string& file);

/// The file's word for what was read: "profile", "resist", "blank", "machine", "calibration",
/// "drive", "board".
[[nodiscard]] std::string_view kind_word(const AnyFile& any);

} // namespace whirler::files
