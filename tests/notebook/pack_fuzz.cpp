// Any bytes as a chunk: nothing, or a chunk that packs and unpacks to itself.
#include "whirler/notebook/pack.hpp"

#include <cstdint>
#include <cstdlib>

using namespace whirler::notebook;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::span<const std::uint8_t> bytes(data, size);
  if (const auto chunk = unpack_pulses(bytes)) {
    const auto again = unpack_pulses(pack(*chunk, 6));
    if (!again || again->ticks != chunk->ticks || again->gaps != chunk->gaps)
      std::abort();
  }
  if (const auto samples = unpack_samples(bytes)) {
    const auto once = pack(*samples);
    const auto again = unpack_samples(once);
    if (!again || pack(*again) != once)
      std::abort();
  }
  return 0;
}
