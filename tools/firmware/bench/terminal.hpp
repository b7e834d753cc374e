// The stand on a pseudo-terminal, in real time: for a real host program.
//
// The chip runs in slices of 250 us and is held back to the wall's clock; where the machine is too
// busy it falls behind, and the chip's own time then runs slower than the wall's. Every time that a
// claim is made about is taken from the chip's clock, so that does not spoil it.
#pragma once

#include "stand.hpp"

#include <string>
#include <vector>

namespace bench {

/// A pseudo-terminal's master end. Its slave is held open here too: else the master would read an
/// error as soon as the first client closes.
class PseudoTerminal {
 public:
  PseudoTerminal(); ///< throws std::runtime_error
  ~PseudoTerminal();
  PseudoTerminal(const PseudoTerminal&) = delete;
  PseudoTerminal& operator=(const PseudoTerminal&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  /// What has come, without waiting.
  [[nodiscard]] std::vector<std::uint8_t> take();
  void put(std::uint8_t byte);
  void flush();

 private:
  int master_ = -1;
  int slave_ = -1;
  std::string path_;
  std::vector<std::uint8_t> waiting_;
};

/// Chip, spinner and line without the lock-step host.
class LiveStand {
 public:
  explicit LiveStand(const StandModel& model);
  LiveStand(const std::string& image, const RigModel& model);

  [[nodiscard]] const std::string& path() const { return terminal_.path(); }
  /// So much of the chip's time, not faster than the wall's.
  void run_for(Cycles span);
  /// When the last byte from the host had reached the chip.
  [[nodiscard]] Cycles last_heard() const { return last_heard_; }

  Chip chip;
  Rig rig;
  SerialLine line;

 private:
  PseudoTerminal terminal_;
  Cycles last_heard_ = 0;
};

} // namespace bench
