// A stop on a busy line: what it cuts off, what it makes void, and the silence that it keeps. At
// 300 baud a character lasts 37 ms and a silence 128 ms, so that a busy computer's delays do not
// decide.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "pty_pair.hpp"
#include "whirler/drive/rtu_master.hpp"

#include <chrono>
#include <functional>
#include <optional>

using namespace whirler;
using namespace whirler::drive;
using namespace whirler::test;
using modbus::Function;

namespace {

using Bytes = std::vector<std::uint8_t>;
using TestClock = std::chrono::steady_clock;

constexpr LineFormat kSlow{300, Parity::even, 1};
constexpr Duration kReplyWithin = seconds(1.2);
const modbus::Request kQuestion = modbus::read_request(3, Function::read_input, 16, 1);
const modbus::Request kStop = modbus::write_request(3, Function::write_one, 0, {0});

double silence_s() { return modbus::silence(kSlow).s(); }
double frame_s() { return kSlow.time_of(modbus::encode(kQuestion).size()).s(); }

/// A master that has just written a question to a far end that the test plays.
class BusyLine {
 public:
  BusyLine() : master_(io_, open(), "line", kSlow, {kReplyWithin, 0}, [](const Fault&) {}) {
    begun_ = TestClock::now(); // before it is written: what is timed from here is not too short
    master_.ask(kQuestion, [](const auto&) {});
    const auto written = await_bytes();
    REQUIRE(written == modbus::encode(kQuestion));
  }
  /// Since the question's first character.
  [[nodiscard]] double now_s() const {
    return std::chrono::duration<double>(TestClock::now() - begun_).count();
  }
  void serve_until(double when_s) {
    while (now_s() < when_s)
      serve();
  }
  void reply(const Bytes& bytes) {
    far_.write(bytes);
    for (int i = 0; i < 3; ++i)
      serve();
  }
  void stop() {
    master_.ask_ahead(kStop, [this](const auto& answer) { answered_ = answer.ok(); });
  }
  /// Answers the question that is out, a tenth of a second late.
  void answer_question() {
    serve_until(frame_s() + kSlow.time_of(7).s() + 0.1);
    reply(modbus::encode_reply(kQuestion, std::vector<std::uint16_t>{7}));
  }
  /// The next question, written when the line is free.
  void ask_again() {
    master_.ask(kQuestion, [](const auto&) {});
    REQUIRE(await_bytes() == modbus::encode(kQuestion));
    begun_ = TestClock::now();
  }
  /// As a run does: again until it is answered.
  void keep_stopping() {
    master_.ask_ahead(kStop, [this](const auto& answer) {
      if (!answer)
        keep_stopping();
    });
  }
  Bytes await_bytes() {
    Bytes bytes;
    for (int i = 0; i < 2000 && bytes.empty(); ++i) {
      serve();
      bytes = far_.read(0);
    }
    return bytes;
  }
  [[nodiscard]] bool answered() const { return answered_; }

 private:
  SerialPort open() {
    auto port = SerialPort::open(io_, far_.path(), kSlow);
    REQUIRE(port.ok());
    return std::move(*port);
  }
  void serve() {
    io_.restart();
    io_.run_one_for(std::chrono::milliseconds(1));
  }

  PtyPair far_;
  boost::asio::io_context io_;
  RtuMaster master_;
  TestClock::time_point begun_{};
  bool answered_ = false;
};

} // namespace

TEST_CASE("rtu: a stop cuts off the question that goes out, and keeps the silence behind it") {
  BusyLine line;
  line.serve_until(0.3 * frame_s());
  const double asked = line.now_s();
  line.stop();
  CHECK(line.await_bytes() == modbus::encode(kStop));
  CHECK(line.now_s() - asked >= silence_s());
  CHECK(line.now_s() < frame_s() + silence_s()); // it did not wait for the question's end
}

TEST_CASE("rtu: a stop makes the question void that the drive has not yet taken for ended") {
  BusyLine line;
  line.serve_until(frame_s() + 0.1 * silence_s());
  line.stop();
  const Bytes more = line.await_bytes();
  const double voided = line.now_s();
  REQUIRE(more.size() == 1);
  auto frame = modbus::encode(kQuestion);
  frame.push_back(more[0]);
  CHECK(modbus::crc(frame) != 0); // over a whole frame and its CRC it is 0
  CHECK(line.await_bytes() == modbus::encode(kStop));
  CHECK(line.now_s() - voided >= silence_s()); // and a character, less what the reading was late
  line.reply(modbus::encode_reply(kStop, {}));
  CHECK(line.answered());
}

TEST_CASE("rtu: a stop over a reply that is due keeps the silence behind the question") {
  BusyLine line;
  line.serve_until(frame_s() + 0.9 * silence_s()); // too late for a character more
  line.stop();
  CHECK(line.await_bytes() == modbus::encode(kStop));
  CHECK(line.now_s() >= frame_s() + silence_s());
  CHECK(line.now_s() < frame_s() + 3.0 * silence_s()); // the reply may take 1.2 s
}

TEST_CASE("rtu: a stop that may have met a reply is soon sent again, and then waited for") {
  // Sent again and again sooner than a slow drive answers, it would meet the answers for ever.
  BusyLine line;
  line.serve_until(frame_s() + 2.0 * silence_s()); // the reply is due
  line.keep_stopping();
  double sent[3];
  for (double& at : sent) {
    CHECK(line.await_bytes() == modbus::encode(kStop));
    at = line.now_s();
  }
  const double reply_s = frame_s(); // that to a write is as long
  CHECK(sent[1] - sent[0] < 0.5 * kReplyWithin.s() + frame_s() + reply_s);
  CHECK(sent[2] - sent[1] >= 0.9 * kReplyWithin.s() + frame_s() + reply_s);
}

TEST_CASE("rtu: a lost stop is sent again when this drive would have answered, then ever later") {
  // [math] Twice the tenth of a second, doubled once for the first loss, and then again.
  BusyLine line;
  for (int i = 0; i < 4; ++i) {
    line.answer_question();
    line.ask_again();
  }
  line.serve_until(frame_s() + 2.0 * silence_s());
  line.keep_stopping();
  double sent[4];
  for (double& at : sent) {
    CHECK(line.await_bytes() == modbus::encode(kStop));
    at = line.now_s();
  }
  const double on_the_line_s = 2.0 * frame_s(); // stop and reply
  CHECK(sent[2] - sent[1] < 0.6 * kReplyWithin.s() + on_the_line_s);
  CHECK(sent[3] - sent[2] > sent[2] - sent[1] + 0.05); // twice the wait
}

TEST_CASE("rtu: a stop adds nothing to a question whose reply has begun") {
  BusyLine line;
  line.serve_until(frame_s());
  line.reply({3, 4});
  line.stop();
  CHECK(line.await_bytes() == modbus::encode(kStop));
  CHECK(line.now_s() >= frame_s() + silence_s());
}
