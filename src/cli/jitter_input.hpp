// What `jitter` is asked to read: a stored coat or a table of pulses, the machine, the baseline.
#pragma once

#include "load.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/tach/recording.hpp"

#include <optional>
#include <string>

namespace whirler::cli {

struct JitterWords {
  std::optional<std::int64_t> coat;
  std::string pulses;
  std::string baseline; ///< a table, or the number of a coat of the bare hub
  std::string accel;    ///< a table of an accelerometer's samples
  std::optional<int> marks;
  std::string machine;
  std::string blank;
  std::optional<Duration> tick;
  std::optional<int> tick_bits;
  tach::FigureLimits limits; ///< in place of the machine's, where any is given
};

struct JitterInput {
  tach::Recording recording;
  std::string source;           ///< for people: "coat 12", "pulses.csv"
  bool no_tach = false;         ///< a coat of a machine that has none: there is nothing to analyse
  std::optional<Speed> slowest; ///< of the machine, where its file is known
  std::optional<Speed> fastest;
  std::string stopped; ///< for what the watch ended the coat's run; empty: it did not
  std::optional<notebook::Coat> coat{}; ///< whose run it is, less its pulses
};

/// Faults: command_line where the words do not go together; input for what the files and the
/// notebook lack. None: mistakes in files, which `files` has kept.
[[nodiscard]] std::optional<Result<JitterInput>>
load_jitter(FileLoader& files, const std::string& notebook, const JitterWords& words);

/// The bare hub: its once-per-turn figure, and its pulses as a table for the record.
struct Baseline {
  tach::OnceVector figure;
  bool numbered = false; ///< its angle is from the index, and not from the first pulse
  std::string source;
  std::string table;
};

/// From a coat's number or a table. Faults as load_jitter; (input) marks that cannot show its
/// angle. None: mistakes in files.
[[nodiscard]] std::optional<Result<Baseline>> load_baseline(FileLoader& files,
                                                            const std::string& notebook,
                                                            const std::string& source,
                                                            const std::string& machine);

} // namespace whirler::cli
