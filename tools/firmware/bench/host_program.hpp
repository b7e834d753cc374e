// A program on the far side of the terminal, started as a person would start it.
#pragma once

#include <optional>
#include <string>
#include <sys/types.h>
#include <vector>

namespace bench {

class HostProgram {
 public:
  /// Starts it with nothing on its input; what it says goes to files in `folder`. Throws
  /// std::runtime_error where there is no such program.
  HostProgram(const std::vector<std::string>& words, std::string folder);
  ~HostProgram(); ///< kills it if it still runs
  HostProgram(const HostProgram&) = delete;
  HostProgram& operator=(const HostProgram&) = delete;

  void signal(int number);
  /// Its exit status, or 128 and the signal that ended it; none while it runs.
  [[nodiscard]] std::optional<int> ended();
  [[nodiscard]] std::string answer() const; ///< its standard output so far
  [[nodiscard]] std::string said() const;   ///< its standard error so far

 private:
  std::string folder_;
  pid_t process_ = -1;
  std::optional<int> status_;
};

/// A folder of its own, gone with this object.
class ScratchFolder {
 public:
  ScratchFolder(); ///< throws std::runtime_error
  ~ScratchFolder();
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  /// Writes a file; gives its path.
  std::string write(const std::string& name, const std::string& text) const;

 private:
  std::string path_;
};

} // namespace bench
