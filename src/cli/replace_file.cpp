#include "replace_file.hpp"

#include <filesystem>
#include <fstream>

namespace whirler::cli {

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
