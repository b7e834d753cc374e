#include "replace_file.hpp"

#include <fcntl.h>
#include <filesystem>
#include <fstream>
#include <sys/file.h>
#include <unistd.h>

namespace whirler::cli {

HeldFile::HeldFile(const std::string& path) : file_(::open(path.c_str(), O_RDONLY | O_CLOEXEC)) {
  if (file_ >= 0)
    (void)::flock(file_, LOCK_EX);
}

HeldFile::~HeldFile() {
  if (file_ >= 0)
    (void)::close(file_);
}

Outcome replace_file(const std::string& path, const std::string& text) {
  const std::string beside = path + ".new";
  {
    std::ofstream file(beside, std::ios::binary | std::ios::trunc);
    if (!file)
      return input_fault("the file cannot be written", beside,
                         "check the folder and its permissions");
    file << text;
    file.close();
    if (!file)
      return input_fault("the file could not be written to its end", beside, "check the disk");
  }
  std::error_code error;
  std::filesystem::rename(beside, path, error);
  if (error)
    return input_fault("the file cannot be replaced: " + error.message(), path,
                       "check the folder and its permissions");
  return Done{};
}

} // namespace whirler::cli
