// A thread beside the run's loop for what may wait: disks and screens. Work is done in order.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>

namespace whirler::session {

class SideThread {
 public:
  SideThread();
  /// Does what is still queued, then ends.
  ~SideThread();
  SideThread(const SideThread&) = delete;
  SideThread& operator=(const SideThread&) = delete;

  /// Returns at once.
  void post(std::function<void()> work);
  /// Waits until everything posted so far is done.
  void drain();
  [[nodiscard]] std::size_t backlog() const;

 private:
  void serve();

  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::function<void()>> queue_;
  bool busy_ = false;
  bool ending_ = false;
  std::thread thread_; // last: starts when all else is there
};

} // namespace whirler::session
