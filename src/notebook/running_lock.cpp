#include "running_lock.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <limits>
#include <utility>

namespace whirler::notebook {
namespace {

std::string lock_path(const std::string& notebook) { return notebook + "-running"; }

/// Of the bytes from `from` up to, but without, `to`.
struct flock bytes_of(off_t from, off_t to) {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  lock.l_start = from;
  lock.l_len = to - from;
  return lock;
}

} // namespace

RunningLock::~RunningLock() {
  if (descriptor_ >= 0)
    close(descriptor_);
}

RunningLock::RunningLock(RunningLock&& other) noexcept
    : descriptor_(std::exchange(other.descriptor_, -1)) {}

RunningLock& RunningLock::operator=(RunningLock&& other) noexcept {
  std::swap(descriptor_, other.descriptor_);
  return *this;
}

Result<RunningLock> RunningLock::take(const std::string& notebook, std::int64_t coat) {
  const std::string path = lock_path(notebook);
  RunningLock held(open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666));
  struct flock lock = bytes_of(static_cast<off_t>(coat), static_cast<off_t>(coat) + 1);
  // An open-file-description lock: it belongs to this descriptor, not to the process, so that a
  // reader in the same process sees it and closing another descriptor does not drop it.
  if (held.descriptor_ < 0 || fcntl(held.descriptor_, F_OFD_SETLK, &lock) != 0)
    return input_fault("the file beside the notebook cannot be locked", path,
                       "check its permissions and its folder's");
  return held;
}

RunningCoats::RunningCoats(const std::string& notebook) {
  const RunningLock file(open(lock_path(notebook).c_str(), O_RDONLY | O_CLOEXEC));
  if (file.descriptor_ < 0)
    return; // no file: nobody writes
  // The kernel names one lock of a stretch, in whatever order: then what is left of it on both
  // sides is asked for.
  std::vector<std::pair<off_t, off_t>> stretches{{0, std::numeric_limits<off_t>::max()}};
  while (!stretches.empty()) {
    const auto [from, to] = stretches.back();
    stretches.pop_back();
    struct flock lock = bytes_of(from, to);
    if (from >= to || fcntl(file.descriptor_, F_OFD_GETLK, &lock) != 0 || lock.l_type == F_UNLCK)
      continue;
    coats_.push_back(lock.l_start);
    stretches.emplace_back(from, lock.l_start);
    stretches.emplace_back(lock.l_start + 1, to);
  }
}

bool RunningCoats::has(std::int64_t coat) const {
  return std::find(coats_.begin(), coats_.end(), coat) != coats_.end();
}

} // namespace whirler::notebook
