// A host of any conduct at the simulated driver's line: whatever comes, a driver that is latched or
// ready drives nothing, and nothing turns faster than its limit lets it.
//
// The input is a list of doings, a byte each with what follows it: raw bytes, or a message made
// well (or the fuzzer would seldom get past the CRC).
#include "whirler/plant/simulated_driver.hpp"

#include <cstdlib>

using namespace whirler;
using namespace whirler::plant;

namespace {

void must(bool holds) {
  if (!holds)
    std::abort();
}

class Input {
 public:
  explicit Input(std::span<const std::uint8_t> bytes) : bytes_(bytes) {}
  [[nodiscard]] bool ended() const { return bytes_.empty(); }
  std::uint8_t byte() {
    if (bytes_.empty())
      return 0;
    const std::uint8_t first = bytes_.front();
    bytes_ = bytes_.subspan(1);
    return first;
  }
  std::span<const std::uint8_t> bytes(std::size_t count) {
    const auto part = bytes_.first(std::min(count, bytes_.size()));
    bytes_ = bytes_.subspan(part.size());
    return part;
  }

 private:
  std::span<const std::uint8_t> bytes_;
};

Setup bench() {
  Setup setup = make_setup(plain_machine(), std::nullopt).value();
  for (const char* fault : {"corrupt=1e-3@0s", "lid@5s+1s", "drop=9@2s+1s"})
    setup.faults.push_back(parse_fault(fault).value());
  return setup;
}

class Session {
 public:
  void step(Input& input) {
    switch (input.byte() % 8) {
    case 0:
      return driver_.receive(input.bytes(input.byte() % 32));
    case 1:
      return say(link::Hello{input.byte(), input.byte(), 7});
    case 2:
      return say(link::Clear{});
    case 3:
      return upload(input);
    case 4:
      return start(input);
    case 5:
      return say(link::KeepAlive{static_cast<std::uint16_t>(newest_ - input.byte() % 4)});
    case 6:
      return wait(input.byte());
    default:
      return driver_.receive(
          link::stop_sequence(input.byte() % 2 == 0 ? link::StopKind::cut : link::StopKind::stop));
    }
  }
  void check() const {
    const Truth now = driver_.truth();
    const bool may_drive =
        now.state != link::DriverState::latched && now.state != link::DriverState::ready;
    must(may_drive || (now.command == 0.0 && !now.enabled));
    must(now.command >= 0.0 && now.command <= 1.0);
    must(now.speed < rpm(6700));
  }

 private:
  void say(const link::HostMessage& message) { driver_.receive(link::encode(message, seq_++)); }
  void upload(Input& input) {
    const link::Segment segment{static_cast<std::uint8_t>(program_.size()),
                                rpm(30.0 * input.byte()), rpm_per_s(15.0 * input.byte()),
                                milliseconds(input.byte())};
    program_.push_back(segment);
    say(segment);
  }
  void start(Input& input) {
    say(link::Start{static_cast<std::uint8_t>(program_.size()), rpm_per_s(1000), false,
                    rpm(40.0 * input.byte()), link::program_crc(program_), ++token_});
    program_.clear();
  }
  void wait(int ms) {
    for (int i = 0; i < ms; ++i) {
      driver_.advance(milliseconds(1));
      decoder_.feed(driver_.take_output(), [this](const link::Frame& frame) {
        const auto read = link::decode_driver(frame);
        if (const auto* message = std::get_if<link::DriverMessage>(&read))
          if (const auto* status = std::get_if<link::Status>(message))
            newest_ = status->report;
      });
      check();
    }
  }

  SimulatedDriver driver_{bench()};
  link::Decoder decoder_;
  std::vector<link::Segment> program_;
  std::uint8_t seq_ = 0;
  std::uint32_t token_ = 0;
  std::uint16_t newest_ = 0;
};

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Input input({data, size});
  Session session;
  for (int doings = 0; doings < 400 && !input.ended(); ++doings) {
    session.step(input);
    session.check();
  }
  return 0;
}
