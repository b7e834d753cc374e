#include "running_lock.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <utility>

namespace whirler::notebook {
namespace {

std::string lock_path(const std::string& notebook) { return notebook + "-running"; }

struct flock byte_of(std::int64_t coat) {
  struct flock lock {};
  lock.l_type = F_WRLCK;
  lock.l_whence = SEEK_SET;
  lock.l_start = static_cast<off_t>(coat);
  lock.l_len = 1;
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
  struct flock lock = byte_of(coat);
  // An open-file-description lock: it belongs to this descriptor, not to the process, so that a
  // reader in the same process sees it and closing another descriptor does not drop it.
  if (held.descriptor_ < 0 || fcntl(held.descriptor_, F_OFD_SETLK, &lock) != 0)
    return input_fault("the file beside the notebook cannot be locked", path,
                       "check its permissions and its folder's");
  return held;
}

RunningCoats::RunningCoats(const std::string& notebook)
    : file_(RunningLock(open(lock_path(notebook).c_str(), O_RDONLY | O_CLOEXEC))) {}

bool RunningCoats::has(std::int64_t coat) const {
  struct flock lock = byte_of(coat);
  return file_.descriptor_ >= 0 && fcntl(file_.descriptor_, F_OFD_GETLK, &lock) == 0 &&
         lock.l_type != F_UNLCK;
}

} // namespace whirler::notebook
