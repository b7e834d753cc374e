// Any bytes as what came back after a question: a reply that encodes to the very bytes it was found
// in, or none and a reason; never a crash.
#include "whirler/modbus/frame.hpp"

#include <algorithm>
#include <array>
#include <cstdlib>

using namespace whirler::modbus;

namespace {

/// The first bytes choose the question, so that a fuzzer can make the two fit.
Request question(std::span<const std::uint8_t> bytes) {
  constexpr std::array kFunctions{
      Function::read_holding, Function::read_input,    Function::write_one, Function::write_many,
      Function::read_coils,   Function::read_discrete, Function::write_coil};
  const auto unit = static_cast<std::uint8_t>(1 + bytes[0] % kUnitHighest);
  const auto function = kFunctions[bytes[1] % kFunctions.size()];
  const auto address = static_cast<std::uint16_t>(bytes[2] << 4U);
  const std::size_t count = 1 + bytes[3] % 100U;
  if (is_read(function))
    return read_request(unit, function, address, static_cast<std::uint16_t>(count));
  if (function == Function::write_coil)
    return write_request(unit, function, address, {static_cast<std::uint16_t>(count % 2)});
  return write_request(unit, function, address,
                       std::vector<std::uint16_t>(function == Function::write_one ? 1 : count, 7));
}

void demand(bool holds) {
  if (!holds)
    std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  constexpr std::size_t kChoice = 4;
  if (size < kChoice)
    return 0;
  const std::span<const std::uint8_t> bytes(data, size);
  const Request request = question(bytes);
  const auto heard = bytes.subspan(kChoice);
  demand(!to_text(request).empty() && !to_text(what_was_heard(request, heard)).empty());
  if (const auto reply = find_reply(request, heard)) {
    demand(reply->from < reply->to && reply->to <= heard.size());
    const auto found = heard.subspan(reply->from, reply->to - reply->from);
    const auto again = reply->exception ? encode_exception(request, *reply->exception)
                                        : encode_reply(request, reply->values);
    demand(std::equal(found.begin(), found.end(), again.begin(), again.end()));
    demand(!reply->exception || !exception_text(*reply->exception).empty());
  }
  return 0;
}
