// Any text at all is a quantity or a fault with all its parts; what was read writes and reads back.
#include "whirler/units/text.hpp"

#include <cstdint>
#include <cstdlib>
#include <string_view>

namespace {

void demand(bool claim) {
  if (!claim)
    std::abort();
}

template <class Q>
void read(std::string_view text) {
  const auto result = whirler::parse<Q>(text);
  if (!result) {
    demand(!result.fault().what.empty() && !result.fault().next.empty());
    return;
  }
  demand(result->is_finite());
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  read<whirler::Length>(text);
  read<whirler::Speed>(text);
  read<whirler::Temperature>(text);
  read<whirler::Dose>(text);
  const auto number = whirler::parse_number(text);
  if (number) {
    const auto again = whirler::parse_number(whirler::number_text(*number, 17));
    demand(again.ok() && *again == *number);
  }
  return 0;
}
