// Keeps every processor of this machine from going to sleep, for a benchmark that counts
// milliseconds between two of its threads.
//
// On a pseudo-terminal a write() wakes the far end's thread. Where that thread's processor sleeps,
// and both are a virtual machine's, the host may take the writer's processor away to wake the
// other: write() was seen to take 3 to 5 ms on a machine with nothing else to do, and 0.03 ms on
// one that is awake. A serial port has nobody on the same machine to wake.
#pragma once

#include <sched.h>

#include <algorithm>
#include <atomic>
#include <thread>
#include <vector>

namespace whirler::bench {

/// A thread a processor that turns without end while this lives, and gives way to any other
/// (SCHED_IDLE). Where the system does not grant that there are none.
class AwakeProcessors {
 public:
  AwakeProcessors() {
    for (unsigned i = 0; i < std::max(1U, std::thread::hardware_concurrency()); ++i)
      threads_.emplace_back([this] { turn(); });
  }
  ~AwakeProcessors() {
    ended_ = true;
    for (auto& thread : threads_)
      thread.join();
  }
  AwakeProcessors(const AwakeProcessors&) = delete;
  AwakeProcessors& operator=(const AwakeProcessors&) = delete;

 private:
  void turn() const {
    const sched_param none{};
    if (sched_setscheduler(0, SCHED_IDLE, &none) != 0)
      return;
    while (!ended_) {
    }
  }

  std::atomic<bool> ended_{false};
  std::vector<std::thread> threads_;
};

} // namespace whirler::bench
