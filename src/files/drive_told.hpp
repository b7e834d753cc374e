// What a drive is told by a file's sequences, write by write, whichever way the file says it.
#pragma once

#include "drive_draft.hpp"

#include <string>
#include <vector>

namespace whirler::files {

struct Told {
  modbus::Cell cell;
  std::uint16_t value = 0;
  std::string path; ///< of the value, from the file's root
};

/// The writes of a sequence, as they are where the machine turns so.
[[nodiscard]] std::vector<Told> told(const modbus::Sequence& sequence, const std::string& key,
                                     bool counterclockwise);
/// Of "run", or of "start" and "stop"; empty where neither or both stand.
[[nodiscard]] std::vector<Told> told_to_start(const DriveDraft& draft, bool counterclockwise);
[[nodiscard]] std::vector<Told> told_to_stop(const DriveDraft& draft, bool counterclockwise);

/// The one write that starts the motor: the last; where that takes a pushed button back (a value,
/// then 0 in the same register), the value before it.
[[nodiscard]] const Told& run_write(const std::vector<Told>& start);

/// Two cells of one of a drive's four tables (coils, discrete inputs, input and holding registers)
/// that have an address in common.
[[nodiscard]] bool overlap(const modbus::Cell& one, const modbus::Cell& other);
/// "register 8 (0x0008)", "coil 3 (0x0003)".
[[nodiscard]] std::string place_text(const modbus::Cell& cell);

} // namespace whirler::files
