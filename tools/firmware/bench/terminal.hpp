// The stand on a pseudo-terminal, in real time: for a real host program.
//
// The chip runs in slices of 250 us and is held back to the wall's clock; where the machine is too
// busy it falls behind, and the chip's own time then runs slower than the wall's. Every time that a
// claim is made about is taken from the chip's clock, so that does not spoil it.
#pragma once

#include "stand.hpp"

#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"

#include <optional>
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
  void hang_up();

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
  /// So much of the chip's time, not faster than `hurry` times the wall's.
  void run_for(Cycles span, double hurry = 1.0);
  /// Takes the terminal away, as when an adapter is pulled out of its socket.
  void vanish() { terminal_.hang_up(); }
  /// When the last byte from the host had reached the chip.
  [[nodiscard]] Cycles last_heard() const { return last_heard_; }
  /// When the first byte of the first cut sequence from the host began.
  [[nodiscard]] std::optional<Cycles> cut_began() const { return cut_began_; }
  /// The newest report that the chip sent, as a host reads it.
  [[nodiscard]] const std::optional<whirler::link::Status>& heard() const { return heard_; }
  /// Forgets it, says hello past the terminal, and gives the report that comes of it, if any.
  std::optional<whirler::link::Status> greet_past_terminal();
  /// How far the chip fell behind the wall's clock at worst, in ms: was this machine too busy?
  [[nodiscard]] double worst_lateness_ms() const { return worst_late_ms_; }

  Chip chip;
  Rig rig;
  SerialLine line;

 private:
  void carry_to_chip();
  void listen(std::uint8_t byte);

  PseudoTerminal terminal_;
  whirler::link::Decoder decoder_;
  std::optional<whirler::link::Status> heard_;
  Cycles last_heard_ = 0;
  std::optional<Cycles> cut_began_;
  std::uint8_t byte_before_ = 0;
  double worst_late_ms_ = 0.0;
};

} // namespace bench
