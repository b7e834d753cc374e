// Any bytes at either end of the line: nothing is read past its end, and what is taken for a
// message means the same when it is sent on.
#include "whirler/link/pulse_unwrapper.hpp"

#include <cstdlib>

using namespace whirler::link;

namespace {

void must(bool holds) {
  if (!holds)
    std::abort();
}

/// Sent on, a message must come back as itself.
template <class Message, class Decode>
void sent_on(const Message& message, const Decode& decode) {
  Decoder decoder;
  const auto frames = decoder.feed(encode(message, 1));
  must(frames.size() == 1 && decoder.discarded() == 0);
  const auto read = decode(frames[0]);
  must(std::holds_alternative<Message>(read));
  must(std::get<Message>(read) == message);
}

void read_as_driver(std::span<const std::uint8_t> line) {
  StopDetector stops;
  std::vector<std::uint8_t> rest;
  (void)take_stops(stops, line, rest);
  Decoder decoder(kMaxHostPayload);
  decoder.feed(rest, [](const Frame& frame) {
    must(frame.size <= kMaxHostPayload);
    const auto read = decode_host(frame);
    if (const auto* message = std::get_if<HostMessage>(&read))
      sent_on(*message, decode_host);
  });
}

void read_as_host(std::span<const std::uint8_t> line) {
  HelloReply driver;
  driver.tick_bits = 16;
  driver.marks_per_turn = 6;
  PulseUnwrapper unwrapper(driver);
  Decoder decoder;
  std::int64_t last = 0;
  decoder.feed(line, [&](const Frame& frame) {
    const auto read = decode_driver(frame);
    const auto* message = std::get_if<DriverMessage>(&read);
    if (message == nullptr)
      return;
    if (const auto* batch = std::get_if<Pulses>(message)) {
      const auto part = unwrapper.add(*batch);
      must(part.ticks.size() == batch->count() && part.marks.size() == batch->count());
      must(part.ticks.front() >= last - 0x8000); // half a wrap: noise may change the order of marks
      last = part.ticks.back();
    }
    sent_on(*message, decode_driver);
  });
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  read_as_driver({data, size});
  read_as_host({data, size});
  return 0;
}
