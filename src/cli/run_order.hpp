// From the words of a `run` command to an order: the files read, the plate weighed, the spinner's
// model filled in, the cautions collected.
#pragma once

#include "load.hpp"
#include "modbus_run.hpp"
#include "room_options.hpp"
#include "whirler/blank/properties.hpp"
#include "whirler/session/run_session.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// What is kept with a run's coat from its start, beside its files: a note of this kind.
struct NoteOfStart {
  std::string kind;
  std::string document; ///< JSON
};

struct RunWords {
  std::string profile;
  std::string profile_text; ///< of a profile that no file holds; `profile` is then its name
  std::string machine;
  std::string resist;
  std::string blank;
  std::string board;
  std::string side;
  bool simulate = false;
  bool lid_closed = false;
  bool no_drive_timeout = false;
  double speed_up = 1.0;
  std::uint64_t seed = 1;
  std::string baseline;            ///< of the bare hub: a coat's number or a table; may be empty
  std::vector<std::string> faults; ///< of the simulation
  RoomOptions room;
  std::vector<NoteOfStart> notes;
  Duration patience = seconds(5);
};

/// A file of the run as it was, for the record.
struct FileText {
  std::string kind; ///< profile, machine, resist or blank
  std::string path;
  std::string text;
};

struct LoadedRun {
  session::RunOrder order;
  std::vector<FileText> texts;
  std::string resist_name;
  std::string blank_name;
  std::optional<blank::Blank> blank;
  std::vector<std::string> cautions;
  std::optional<ModbusRun> modbus; ///< where the drive is one, and is not simulated
};

/// Reads every file that the words name. None where `loader` has found mistakes in a file; a fault
/// where the files are sound but cannot go together.
[[nodiscard]] std::optional<Result<LoadedRun>> load_run(FileLoader& loader, const RunWords& words);

/// What the pulse analysis needs to know of a machine with (or without) a plate on it.
[[nodiscard]] tach::SpinnerModel spinner_model(const machine::Machine& machine,
                                               const std::optional<blank::Properties>& plate);

} // namespace whirler::cli
