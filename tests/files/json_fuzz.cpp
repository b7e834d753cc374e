// Any text as each kind of file: a value or faults with places inside the text, never a crash.
#include "whirler/files/read.hpp"

#include <algorithm>
#include <cstdint>
#include <cstdlib>

using namespace whirler::files;

namespace {

template <class T>
void look_at(const Read<T>& read, std::string_view text) {
  if (read)
    return;
  const auto lines = static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) + 1;
  if (read.faults().empty() || read.faults().size() > 100)
    std::abort();
  for (const FileFault& fault : read.faults())
    if (fault.line == 0 || fault.line > lines || fault.column > text.size() + 1 ||
        fault.found.empty() || fault.allowed.empty() || to_text(fault).empty())
      std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  look_at(read_any(text, "f"), text);
  look_at(read_profile(text, "f"), text);
  look_at(read_resist(text, "f"), text);
  look_at(read_blank(text, "f"), text);
  look_at(read_machine(text, "f"), text);
  look_at(read_drive(text, "f"), text);
  return 0;
}
