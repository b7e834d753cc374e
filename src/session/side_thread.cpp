#include "whirler/session/side_thread.hpp"

#include <csignal>
#include <utility>

namespace whirler::session {
namespace {

/// Signals are the loop's: on this thread they would interrupt a write instead.
void leave_signals_to_the_loop() {
  sigset_t all;
  sigfillset(&all);
  pthread_sigmask(SIG_BLOCK, &all, nullptr);
}

} // namespace

SideThread::SideThread() : thread_([this] { serve(); }) {}

SideThread::~SideThread() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void SideThread::post(std::function<void()> work) {
  {
    const std::lock_guard lock(mutex_);
    queue_.push_back(std::move(work));
  }
  changed_.notify_all();
}

void SideThread::drain() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return queue_.empty() && !busy_; });
}

std::size_t SideThread::backlog() const {
  const std::lock_guard lock(mutex_);
  return queue_.size() + (busy_ ? 1 : 0);
}

void SideThread::serve() {
  leave_signals_to_the_loop();
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [this] { return ending_ || !queue_.empty(); });
    if (queue_.empty())
      return;
    const auto work = std::move(queue_.front());
    queue_.pop_front();
    busy_ = true;
    lock.unlock();
    work();
    lock.lock();
    busy_ = false;
    changed_.notify_all();
  }
}

} // namespace whirler::session
