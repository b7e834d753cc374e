// A pseudo-terminal as the far end of a serial line: any client opens its name like a port.
//
// The near end keeps a descriptor of the client's side open, because without one the near end reads
// errors whenever no client is there. That hides when a client comes and goes, so the name is
// watched (inotify); when the last one goes, what it had claimed or left unread is cleared, as
// unplugging would. Nothing is written while no client is there: a wire keeps no letters.
//
// Rejected: a new pseudo-terminal for every client (its name changes), socat (another program).
#pragma once

#include "whirler/units/quantities.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace whirler::drive {

class PseudoTerminal {
 public:
  /// Opens one, raw. `link` (may be empty): a symbolic link to make to it; an old link there is
  /// replaced, anything else is not. Faults (link): none to be had, the link cannot be made.
  [[nodiscard]] static Result<PseudoTerminal> open(const std::string& link);
  PseudoTerminal(PseudoTerminal&& other) noexcept;
  PseudoTerminal& operator=(PseudoTerminal&& other) noexcept;
  ~PseudoTerminal();

  /// The name that a client opens ("/dev/pts/7").
  [[nodiscard]] const std::string& name() const { return name_; }

  /// Waits for a client's bytes, a client's coming or going, or `wake` (a descriptor, or -1).
  void wait(Duration most, int wake);
  /// What the client wrote, without waiting.
  [[nodiscard]] std::vector<std::uint8_t> read();
  /// What does not fit into the client's unread bytes is lost, as on a wire.
  void write(std::span<const std::uint8_t> bytes);
  /// True in the first call after a client came.
  [[nodiscard]] bool client_came();
  [[nodiscard]] bool has_client() const { return clients_ > 0; }

 private:
  PseudoTerminal() = default;
  void watch_clients();
  void close();

  int near_ = -1;
  int far_ = -1;
  int watch_ = -1;
  int clients_ = 0;
  bool came_ = false;
  std::string name_;
  std::string link_;
};

} // namespace whirler::drive
