// What a run on a Modbus drive needs beside the files of every run: the drive's own file, and that
// its dead-man was proven on this machine.
#pragma once

#include "load.hpp"
#include "whirler/drive/modbus_drive.hpp"
#include "whirler/notebook/notebook.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct ModbusRun {
  drive::ModbusPlace place;
  std::string path; ///< of the drive's file
  std::string text;
  /// Changes with any change of the machine's or the drive's file: a proof holds for these two.
  std::string key;
};

/// The drive's file, found from the machine's. None where it cannot be read: the loader has why.
[[nodiscard]] std::optional<ModbusRun> load_modbus(FileLoader& files,
                                                   const Loaded<machine::Machine>& machine);

/// What of the machine's file does not go with its drive's: a speed above the drive's, with both
/// numbers; a line on which a cycle is too long for a run, however quick the drive. A cycle that is
/// only long becomes a caution.
[[nodiscard]] std::vector<files::FileFault>
against_the_drive(const Loaded<machine::Machine>& machine, const modbus::Description& drive,
                  std::vector<std::string>& cautions);

/// Why this drive must not run: its dead-man was never proven, or it has none and nothing stands in
/// for it. `without_timeout`: --no-drive-timeout was given.
[[nodiscard]] std::optional<Fault> not_safe(notebook::Notebook& notebook, const ModbusRun& run,
                                            const machine::Machine& machine, bool without_timeout);

/// Keeps the proof in the notebook.
[[nodiscard]] Outcome keep_proof(notebook::Notebook& notebook, const ModbusRun& run,
                                 const drive::DeadManProof& proof, notebook::Instant now);
[[nodiscard]] Json to_json(const drive::DeadManProof& proof);

} // namespace whirler::cli
