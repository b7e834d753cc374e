// Puts a text in a file's place, whole or not at all: the old file stays until the new one is
// written to its end. Every file that a command writes is written here, but for the notebook.
#pragma once

#include "whirler/units/result.hpp"

#include <string>

namespace whirler::cli {

/// While it lives, other programs that hold the same file wait: what is read, changed and replaced
/// in between is not lost to another. The file is not changed, and may be read-only; without a file
/// nobody waits.
class HeldFile {
 public:
  explicit HeldFile(const std::string& path);
  ~HeldFile();
  HeldFile(const HeldFile&) = delete;
  HeldFile& operator=(const HeldFile&) = delete;

 private:
  int file_;
};

/// A link leads to the new text, permissions stay; a pipe or a device is written to as it is.
/// Faults (input): the folder or file cannot be written, or not to its end. Then what stood there
/// is whole, and nothing lies beside it.
[[nodiscard]] Outcome replace_file(const std::string& path, const std::string& text);

} // namespace whirler::cli
