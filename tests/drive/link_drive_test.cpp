#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "catch.hpp"
#include "pty_pair.hpp"
#include "whirler/drive/link_drive.hpp"

#include <algorithm>
#include <atomic>
#include <thread>

using namespace whirler;
using namespace whirler::drive;
using whirler::test::PtyPair;

namespace {

constexpr std::uint32_t kNonce = 0x5EED;

struct Hearing final : Listener {
  void on_report(const Report& report) override { reports.push_back(report); }
  void on_pulses(const PulseBatch& batch) override {
    ticks.insert(ticks.end(), batch.ticks.begin(), batch.ticks.end());
    lost += batch.lost_before;
  }
  void on_lost(const Fault&) override { ++times_lost; }
  std::vector<Report> reports;
  std::vector<std::int64_t> ticks;
  std::uint64_t lost = 0;
  int times_lost = 0;
};

link::HelloReply greeting(std::uint32_t nonce) {
  link::HelloReply reply;
  reply.nonce = nonce;
  reply.marks_per_turn = 6;
  reply.index = true;
  reply.lid_switch = true;
  reply.max_speed = rpm(6000);
  reply.min_speed = rpm(200);
  reply.max_slope = rpm_per_s(3000);
  reply.max_segments = 32;
  reply.name = "peer";
  return reply;
}

/// The far end of the line: answers what the test tells it to, and keeps what it was sent.
class Peer {
 public:
  using Answer =
      std::function<std::vector<link::DriverMessage>(const link::HostMessage&, std::uint8_t)>;
  Peer(const PtyPair& line, Answer answer)
      : line_(line), answer_(std::move(answer)), thread_([this] { serve(); }) {}
  ~Peer() { finish(); }
  /// Ends after the line has been quiet for a moment; then `heard` is whole.
  void finish() {
    ending_ = true;
    if (thread_.joinable())
      thread_.join();
  }
  std::vector<link::HostMessage> heard;
  int cuts = 0;

 private:
  void serve() {
    while (true) {
      const auto bytes = line_.read(20);
      if (bytes.empty() && ending_)
        return;
      std::vector<std::uint8_t> rest;
      if (link::take_stops(stops_, bytes, rest) == link::StopKind::cut)
        ++cuts;
      for (const auto& frame : decoder_.feed(rest))
        reply_to(frame);
    }
  }
  void reply_to(const link::Frame& frame) {
    const auto decoded = link::decode_host(frame);
    const auto* message = std::get_if<link::HostMessage>(&decoded);
    if (message == nullptr)
      return;
    heard.push_back(*message);
    for (const auto& answer : answer_(*message, frame.seq)) {
      const auto bytes = link::encode(answer, seq_++);
      if (::write(line_.far_end(), bytes.data(), bytes.size()) < 0)
        return;
    }
  }

  const PtyPair& line_;
  Answer answer_;
  link::StopDetector stops_;
  link::Decoder decoder_{link::kMaxHostPayload};
  std::uint8_t seq_ = 0;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

/// A driver that takes everything.
std::vector<link::DriverMessage> willing(const link::HostMessage& message, std::uint8_t seq) {
  if (const auto* hello = std::get_if<link::Hello>(&message)) {
    link::Status status;
    status.lid = link::LidState::closed;
    return {greeting(hello->nonce), status};
  }
  if (std::holds_alternative<link::Clear>(message))
    return {link::Ack{2, seq}};
  if (std::holds_alternative<link::Segment>(message))
    return {link::Ack{3, seq}};
  if (std::holds_alternative<link::Start>(message))
    return {link::Ack{4, seq}};
  return {};
}

struct Bench {
  PtyPair line;
  boost::asio::io_context context;
  Hearing hearing;
  std::optional<LinkDrive> drive;

  Bench() {
    auto port = SerialPort::open(context, line.path(), 115200);
    REQUIRE(port.ok());
    drive.emplace(context, std::move(*port), line.path(), kNonce);
  }
  Result<Identity> greet(Duration patience) {
    return drive->greet(hearing, patience, [] { return false; });
  }
};

Program two_steps() {
  Program program;
  program.segments = {{rpm(500), rpm_per_s(500), seconds(5)},
                      {rpm(3000), rpm_per_s(1000), seconds(30)}};
  program.stop_slope = rpm_per_s(1000);
  program.ceiling = rpm(6000);
  return program;
}

} // namespace

TEST_CASE("link drive: a driver that answers is known by what it said") {
  Bench bench;
  Peer peer(bench.line, willing);
  const auto identity = bench.greet(seconds(2));
  REQUIRE(identity.ok());
  CHECK(identity->facts.name == "peer");
  CHECK(identity->facts.marks_per_turn == 6);
  CHECK(identity->facts.speed_max.rpm() == Approx(6000));
  CHECK(identity->facts.lid == run::LidState::closed);
  CHECK(identity->cautions.size() == 1); // it has no enable output, and that is said
}

TEST_CASE("link drive: silence and garbage are told apart, each within the patience given") {
  Bench bench;
  const auto silent = bench.greet(milliseconds(300));
  REQUIRE_FALSE(silent.ok());
  CHECK(silent.fault().what == "the driver said nothing for 0.3 s");
  bench.line.write({'h', 'e', 'l', 'l', 'o', 0x7E, 0xFF, 0x00, 0x7E});
  const auto garbage = bench.greet(milliseconds(300));
  REQUIRE_FALSE(garbage.ok());
  CHECK_THAT(garbage.fault().what, Catch::Matchers::ContainsSubstring("no sense in 9 bytes"));
  CHECK(garbage.fault().kind == FaultKind::link);
}

TEST_CASE("link drive: a boot that takes a second is waited for") {
  Bench bench;
  int hellos = 0;
  Peer peer(bench.line, [&](const link::HostMessage& message, std::uint8_t seq) {
    const bool booting = std::holds_alternative<link::Hello>(message) && ++hellos < 5;
    return booting ? std::vector<link::DriverMessage>{} : willing(message, seq);
  });
  CHECK(bench.greet(seconds(5)).ok());
}

TEST_CASE("link drive: another version of the protocol is refused with both ranges") {
  Bench bench;
  Peer peer(bench.line, [](const link::HostMessage& message, std::uint8_t) {
    auto reply = greeting(std::get<link::Hello>(message).nonce);
    reply.protocol_min = 4;
    reply.protocol_max = 7;
    return std::vector<link::DriverMessage>{reply}; // and no report: there is no common layout
  });
  const auto identity = bench.greet(seconds(2));
  REQUIRE_FALSE(identity.ok());
  CHECK_THAT(identity.fault().what, Catch::Matchers::ContainsSubstring("protocol 4 to 7"));
}

TEST_CASE("link drive: an answer to an older greeting is not taken for this one's") {
  Bench bench;
  Peer peer(bench.line, [](const link::HostMessage&, std::uint8_t) {
    return std::vector<link::DriverMessage>{greeting(kNonce + 1), link::Status{}};
  });
  CHECK_FALSE(bench.greet(milliseconds(500)).ok());
}

TEST_CASE("link drive: the whole program goes over before the one start, with its checksum") {
  Bench bench;
  Peer peer(bench.line, willing);
  REQUIRE(bench.greet(seconds(2)).ok());
  REQUIRE(bench.drive->start_program(two_steps()).ok());
  peer.finish();
  std::vector<link::Segment> segments;
  for (const auto& message : peer.heard)
    if (const auto* segment = std::get_if<link::Segment>(&message))
      segments.push_back(*segment);
  REQUIRE(segments.size() == 2);
  CHECK(segments[1].target.rpm() == Approx(3000));
  const auto* start = std::get_if<link::Start>(&peer.heard.back());
  REQUIRE(start != nullptr);
  CHECK(start->segments == 2);
  CHECK(start->program_crc == link::program_crc(segments));
  CHECK(start->token != 0);
}

TEST_CASE("link drive: an answer lost on the line is cured by asking again") {
  Bench bench;
  int starts = 0;
  Peer peer(bench.line, [&](const link::HostMessage& message, std::uint8_t seq) {
    const bool lost = std::holds_alternative<link::Start>(message) && ++starts < 3;
    return lost ? std::vector<link::DriverMessage>{} : willing(message, seq);
  });
  REQUIRE(bench.greet(seconds(2)).ok());
  CHECK(bench.drive->start_program(two_steps()).ok());
  peer.finish();
  CHECK(starts == 3);
}

TEST_CASE("link drive: a refusal comes with the driver's numbers, and the motor is commanded off") {
  Bench bench;
  Peer peer(bench.line, [](const link::HostMessage& message, std::uint8_t seq) {
    if (std::holds_alternative<link::Start>(message))
      return std::vector<link::DriverMessage>{
          link::Nak{4, seq, link::NakCode::speed_high, 3000000, 2500000}};
    return willing(message, seq);
  });
  REQUIRE(bench.greet(seconds(2)).ok());
  const auto started = bench.drive->start_program(two_steps());
  REQUIRE_FALSE(started.ok());
  CHECK(started.fault().kind == FaultKind::input);
  CHECK_THAT(started.fault().what, Catch::Matchers::ContainsSubstring("2500"));
  peer.finish();
  CHECK(peer.cuts > 0);
}

TEST_CASE("link drive: leaving scope with a started program commands the motor off at once") {
  Bench bench;
  Peer peer(bench.line, willing);
  REQUIRE(bench.greet(seconds(2)).ok());
  REQUIRE(bench.drive->start_program(two_steps()).ok());
  bench.drive.reset();
  peer.finish();
  CHECK(peer.cuts > 0);
}

TEST_CASE("link drive: a driver that goes silent during the upload is given up with a clear word") {
  Bench bench;
  Peer peer(bench.line, [](const link::HostMessage& message, std::uint8_t seq) {
    return std::holds_alternative<link::Segment>(message) ? std::vector<link::DriverMessage>{}
                                                          : willing(message, seq);
  });
  REQUIRE(bench.greet(seconds(2)).ok());
  const auto started = bench.drive->start_program(two_steps());
  REQUIRE_FALSE(started.ok());
  CHECK(started.fault().kind == FaultKind::link);
  CHECK_THAT(started.fault().what, Catch::Matchers::ContainsSubstring("sending step 1"));
}
