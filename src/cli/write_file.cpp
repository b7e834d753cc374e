#include "write_file.hpp"

#include <fstream>

namespace whirler::cli {

Outcome write_text_file(const std::string& path, const std::string& text) {
  std::ofstream file(path, std::ios::binary | std::ios::trunc);
  if (!file)
    return input_fault("the file cannot be written", path, "check the folder and its permissions");
  file << text;
  file.close();
  if (!file)
    return input_fault("the file could not be written to its end", path, "check the disk");
  return Done{};
}

} // namespace whirler::cli
