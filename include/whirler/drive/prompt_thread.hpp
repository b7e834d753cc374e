// Asks the system to let this thread run as soon as it has something to do, while the object lives.
//
// A stop's last milliseconds are counted here: on a computer that compiles beside a run, a thread
// that wakes for its timer else waits until another's turn is over, which takes longer than the
// frame that it was about to write. Real time (SCHED_RR, its lowest priority) where this user may
// have it; else short turns, which Linux 6.12 and later grant to anybody, and which let a thread
// that has slept go first. What was granted is told, and nothing depends on it.
//
// Threads that are started meanwhile are not in real time.
#pragma once

namespace whirler::drive {

class PromptThread {
 public:
  enum class Granted { nothing, short_turns, real_time };

  PromptThread();
  PromptThread(const PromptThread&) = delete;
  PromptThread& operator=(const PromptThread&) = delete;
  ~PromptThread();

  [[nodiscard]] Granted granted() const { return granted_; }

 private:
  Granted granted_ = Granted::nothing;
};

} // namespace whirler::drive
