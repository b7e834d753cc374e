// Any text as the three files of an exported coat, zero bytes between them: faults, or a coat that
// comes out as it would go in again.
#include "whirler/notebook/coat_text.hpp"

#include <cstdint>
#include <cstdlib>

using namespace whirler::notebook;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string text(reinterpret_cast<const char*>(data), size);
  CoatTexts texts;
  for (std::string* part : {&texts.coat, &texts.pulses, &texts.samples}) {
    *part = text.substr(0, text.find('\0'));
    text.erase(0, part->size() + 1);
  }
  const auto coat = coat_of(texts, "f", BadChecksum::take);
  if (!coat)
    return coat.faults().empty() ? std::abort(), 1 : 0;
  const CoatTexts once = texts_of(*coat);
  const auto again = coat_of(once, "f");
  if (!again)
    std::abort();
  const CoatTexts twice = texts_of(*again);
  if (once.coat != twice.coat || once.pulses != twice.pulses || once.samples != twice.samples)
    std::abort();
  return 0;
}
