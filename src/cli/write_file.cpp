#include "write_file.hpp"

#include "replace_file.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <unistd.h>

namespace whirler::cli {
namespace {

/// Whether a file stands there that is something else: a resist, a profile, a notebook.
bool is_of_another_kind(const std::string& path, const std::string& text) {
  constexpr std::size_t kBeginning = 4; // "<svg", "<!do": of one kind, files begin alike
  std::error_code error;
  if (!std::filesystem::is_regular_file(path, error))
    return false;
  std::ifstream file(path, std::ios::binary);
  std::string stands(std::min(kBeginning, text.size()), '\0');
  file.read(stands.data(), static_cast<std::streamsize>(stands.size()));
  return file.gcount() > 0 && text.compare(0, stands.size(), stands) != 0;
}

} // namespace

Outcome can_write(const std::string& path, const std::string& beginning) {
  if (is_of_another_kind(path, beginning))
    return input_fault("a file of another kind stands there, and would be lost", path,
                       "choose another name, or take that file away first");
  std::error_code error;
  if (std::filesystem::exists(path, error) && ::access(path.c_str(), W_OK) != 0)
    return input_fault("the file is write-protected", path,
                       "choose another name, or allow writing to it first");
  const auto folder = std::filesystem::path(path).parent_path();
  if (!std::filesystem::exists(path, error) &&
      ::access(folder.empty() ? "." : folder.c_str(), W_OK) != 0)
    return input_fault("the file cannot be written: its folder is not there, or is write-protected",
                       path, "choose another folder");
  return Done{};
}

Outcome write_text_file(const std::string& path, const std::string& text) {
  if (const auto ok = can_write(path, text); !ok)
    return ok;
  return replace_file(path, text);
}

} // namespace whirler::cli
