// Any text as a table of pulses: a train as long as its rows, or faults. The first byte chooses the
// counter.
#include "whirler/files/pulses_csv.hpp"

#include <cstdint>
#include <cstdlib>

using namespace whirler;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0)
    return 0;
  files::PulsesFormat format;
  if ((data[0] & 1U) != 0)
    format.tick = microseconds(0.5);
  if ((data[0] & 2U) != 0)
    format.tick_bits = data[0] >> 2U;
  const std::string_view text(reinterpret_cast<const char*>(data + 1), size - 1);
  const auto read = files::read_pulses(text, "p", format);
  if (read && (read->size() < 2 || (!read->marks.empty() && read->marks.size() != read->size())))
    std::abort();
  if (!read && read.faults().empty())
    std::abort();
  return 0;
}
