// Which coats are being written by a living program: a lock on one byte a coat, in a file beside
// the notebook. The kernel lets go of it however its holder dies.
#pragma once

#include "whirler/units/result.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace whirler::notebook {

class RunningLock {
 public:
  RunningLock() = default;
  ~RunningLock();
  RunningLock(RunningLock&& other) noexcept;
  RunningLock& operator=(RunningLock&& other) noexcept;

  /// Held until destroyed. Fault (input): the file beside the notebook cannot be made or locked.
  [[nodiscard]] static Result<RunningLock> take(const std::string& notebook, std::int64_t coat);

 private:
  friend class RunningCoats;
  explicit RunningLock(int descriptor) : descriptor_(descriptor) {}
  int descriptor_ = -1;
};

/// The coats that a living program, this one included, was writing when this was made. Takes no
/// lock.
class RunningCoats {
 public:
  explicit RunningCoats(const std::string& notebook);
  [[nodiscard]] bool has(std::int64_t coat) const;

 private:
  std::vector<std::int64_t> coats_; ///< in no order; seldom more than one
};

} // namespace whirler::notebook
