#include "replace_file.hpp"

#include <cerrno>
#include <cstdio>
#include <fcntl.h>
#include <filesystem>
#include <random>
#include <sys/file.h>
#include <sys/stat.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace whirler::cli {
namespace {

namespace fs = std::filesystem;

/// What the system says of its last call that failed, in brackets.
std::string reason() { return " (" + std::generic_category().message(errno) + ")"; }

/// An open file that is written from its beginning.
class Written {
 public:
  explicit Written(int file) : file_(file) {}
  ~Written() { close(); }
  Written(const Written&) = delete;
  Written& operator=(const Written&) = delete;

  [[nodiscard]] bool is_open() const { return file_ >= 0; }
  bool set_mode(mode_t mode) const { return ::fchmod(file_, mode) == 0; }
  [[nodiscard]] bool write(const std::string& text) const {
    for (std::size_t done = 0; done < text.size();) {
      const ssize_t wrote = ::write(file_, text.data() + done, text.size() - done);
      if (wrote < 0 && errno != EINTR)
        return false;
      done += wrote > 0 ? static_cast<std::size_t>(wrote) : 0;
    }
    return true;
  }
  /// A disk may take the bytes and find only here that it has no room for them.
  [[nodiscard]] bool sync() const { return ::fsync(file_) == 0; }
  bool close() { return file_ < 0 || ::close(std::exchange(file_, -1)) == 0; }

 private:
  int file_;
};

/// A name in the folder of `path` that nobody has. It says nothing of `path`, which may be as long
/// as a name can be.
std::string name_beside(const std::string& path) {
  std::random_device random;
  return (fs::path(path).parent_path() / (".whirler-" + std::to_string(random()) + ".new"))
      .string();
}

Fault unfinished(const std::string& path) {
  return input_fault("the file could not be written to its end" + reason(), path,
                     "nothing was changed; check the disk");
}

Outcome write_beside(const std::string& beside, const std::string& path, const std::string& text) {
  constexpr mode_t kAsTheUserLikes = 0666; // less what the umask takes
  Written file(::open(beside.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, kAsTheUserLikes));
  if (!file.is_open())
    return input_fault("the file cannot be written" + reason(), path,
                       "check the folder and its permissions");
  struct stat stands {};
  if (::stat(path.c_str(), &stands) == 0)
    (void)file.set_mode(stands.st_mode & 07777U); // as it was, where the disk knows such a thing
  if (!file.write(text) || !file.sync() || !file.close())
    return unfinished(path);
  return Done{};
}

/// A pipe, a terminal, a device: there is nothing to keep, and its name must stay what it is.
Outcome write_through(const std::string& path, const std::string& text) {
  Written file(::open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NOCTTY));
  if (!file.is_open())
    return input_fault("the file cannot be written" + reason(), path,
                       "check the folder and its permissions");
  if (!file.write(text) || !file.close())
    return input_fault("the file could not be written to its end" + reason(), path,
                       "check the disk");
  return Done{};
}

} // namespace

HeldFile::HeldFile(const std::string& path) : file_(::open(path.c_str(), O_RDONLY | O_CLOEXEC)) {
  if (file_ >= 0)
    (void)::flock(file_, LOCK_EX);
}

HeldFile::~HeldFile() {
  if (file_ >= 0)
    (void)::close(file_);
}

Outcome replace_file(const std::string& name, const std::string& text) {
  std::error_code error;
  if (fs::exists(name, error) && !fs::is_regular_file(name, error))
    return write_through(name, text);
  const auto linked = fs::canonical(name, error); // a link stays one, and leads to the new text
  const std::string path = error ? name : linked.string();
  const std::string beside = name_beside(path);
  Outcome put = write_beside(beside, path, text);
  if (put && std::rename(beside.c_str(), path.c_str()) != 0)
    put = input_fault("the file cannot be replaced" + reason(), path,
                      "check the folder and its permissions");
  if (!put)
    (void)::unlink(beside.c_str());
  return put;
}

} // namespace whirler::cli
