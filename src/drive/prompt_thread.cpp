#include "whirler/drive/prompt_thread.hpp"

#include <cstdint>
#include <sched.h>
#include <sys/syscall.h>
#include <unistd.h>

namespace whirler::drive {
namespace {

/// The kernel's struct sched_attr in its first size (sched_setattr(2)): the C library of Debian 12
/// has none.
struct Attributes {
  std::uint32_t size = 48;
  std::uint32_t policy = 0; // the usual one
  std::uint64_t flags = 0;
  std::int32_t nice = 0;
  std::uint32_t priority = 0;
  std::uint64_t runtime = 0; // of a turn, in ns; 0: as the kernel has it
  std::uint64_t deadline = 0;
  std::uint64_t period = 0;
};

constexpr std::uint64_t kResetOnFork = 1;
constexpr std::uint64_t kShortestTurn = 100'000; // ns; the kernel takes none shorter

bool set(const Attributes& wanted) { return syscall(SYS_sched_setattr, 0, &wanted, 0U) == 0; }

Attributes present() {
  Attributes now;
  if (syscall(SYS_sched_getattr, 0, &now, sizeof now, 0U) != 0)
    now.policy = static_cast<std::uint32_t>(-1);
  return now;
}

} // namespace

PromptThread::PromptThread() {
  Attributes wanted = present();
  if (wanted.policy != SCHED_OTHER) // somebody has chosen already
    return;
  wanted.flags = kResetOnFork; // so that threads started meanwhile are as they would be
  wanted.policy = SCHED_RR;
  wanted.priority = 1;
  if (set(wanted)) {
    granted_ = Granted::real_time;
    return;
  }
  wanted.flags = 0;
  wanted.policy = SCHED_OTHER;
  wanted.priority = 0;
  wanted.runtime = kShortestTurn;
  if (set(wanted) && present().runtime == kShortestTurn) // older kernels take it for nothing
    granted_ = Granted::short_turns;
}

PromptThread::~PromptThread() {
  if (granted_ == Granted::nothing)
    return;
  Attributes wanted = present(); // with its flags: to take one back is a right of its own
  wanted.policy = SCHED_OTHER;
  wanted.priority = 0;
  wanted.runtime = 0;
  (void)set(wanted);
}

} // namespace whirler::drive
