// The master against libmodbus's server, over a bridge that spoils what passes.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "modbus_bench.hpp"
#include "whirler/drive/rtu_master.hpp"

#include <optional>

using namespace whirler;
using namespace whirler::drive;
using namespace whirler::test;
using modbus::Function;
using modbus::read_request;
using modbus::write_request;

namespace {

constexpr LineFormat kLine{19200, Parity::even, 1};
using Answer = Result<std::vector<std::uint16_t>>;

/// A master, a bridge, and a drive of unit 3 behind it.
class Scene {
 public:
  explicit Scene(int retries = 2)
      : drive(bridge.drive_port(), 3), port_(open()),
        master(io, std::move(port_), "line", kLine, {milliseconds(60), retries},
               [](const Fault&) {}) {}

  Answer ask(const modbus::Request& request) {
    std::optional<Answer> answer;
    master.ask(request, [&](const Answer& given) { answer.emplace(given); });
    serve([&] { return answer.has_value(); });
    REQUIRE(answer.has_value());
    return *answer;
  }
  void serve(const std::function<bool()>& done, double most_s = 3.0) {
    const auto begin = TestClock::now();
    while (!done() && seconds_since(begin) < most_s) {
      io.restart();
      io.run_one_until(TestClock::now() + std::chrono::milliseconds(5));
    }
  }

  boost::asio::io_context io;
  Bridge bridge;
  LibmodbusDrive drive;

 private:
  SerialPort open() {
    auto opened = SerialPort::open(io, bridge.host_port(), kLine);
    REQUIRE(opened.ok());
    return std::move(*opened);
  }
  SerialPort port_;

 public:
  RtuMaster master;
};

/// Spoils the first `times` replies, and lets the others pass.
Bridge::Spoil first(int times, Bridge::Spoil with) {
  return [=, left = std::make_shared<std::atomic<int>>(times)](Bytes reply) {
    return (*left)-- > 0 ? with(std::move(reply)) : reply;
  };
}

Bytes with_wrong_crc(Bytes reply) {
  reply.back() ^= 0x40U;
  return reply;
}

Bytes of_unit(std::uint8_t unit) {
  return modbus::encode_reply(read_request(unit, Function::read_holding, 0, 1),
                              std::vector<std::uint16_t>{4711});
}

} // namespace

TEST_CASE("rtu: registers are written by 06 and 16 and read back by 03, on libmodbus's server") {
  Scene scene;
  CHECK(scene.ask(write_request(3, Function::write_one, 20, {1234})).ok());
  CHECK(scene.ask(write_request(3, Function::write_many, 21, {5, 6, 65535})).ok());
  const auto read = scene.ask(read_request(3, Function::read_holding, 20, 4));
  REQUIRE(read.ok());
  CHECK(*read == std::vector<std::uint16_t>{1234, 5, 6, 65535});
  CHECK(scene.ask(read_request(3, Function::read_input, 17, 1)).ok());
  CHECK(scene.master.counts().unanswered == 0);
}

TEST_CASE("rtu: questions that wait are answered in their order") {
  Scene scene;
  std::vector<int> order;
  for (int i = 0; i < 5; ++i)
    scene.master.ask(write_request(3, Function::write_one, 20, {static_cast<std::uint16_t>(i)}),
                     [&order, i](const Answer& answer) {
                       CHECK(answer.ok());
                       order.push_back(i);
                     });
  scene.serve([&] { return order.size() == 5; });
  CHECK(order == std::vector<int>{0, 1, 2, 3, 4});
  CHECK(scene.master.idle());
}

TEST_CASE("rtu: an exception reply is said in words, and not asked again") {
  Scene scene;
  scene.drive.habits.refuses_register = 40;
  const auto refused = scene.ask(read_request(3, Function::read_holding, 40, 1));
  REQUIRE_FALSE(refused.ok());
  CHECK(refused.fault().kind == FaultKind::input);
  CHECK_THAT(refused.fault().what, Catch::Matchers::ContainsSubstring("no such register"));
  CHECK(scene.master.counts().questions == 1);
}

TEST_CASE("rtu: a busy drive is asked again, as often as it may be, and then said to be busy") {
  Scene scene(2);
  scene.drive.habits.busy = 2;
  CHECK(scene.ask(read_request(3, Function::read_holding, 5, 1)).ok());
  CHECK(scene.master.counts().busy == 2);
  scene.drive.habits.busy = 3;
  const auto answer = scene.ask(read_request(3, Function::read_holding, 5, 1));
  REQUIRE_FALSE(answer.ok());
  CHECK_THAT(to_text(answer.fault()), Catch::Matchers::ContainsSubstring("06, it is busy") &&
                                          Catch::Matchers::ContainsSubstring("raise \"retries\""));
}

TEST_CASE("rtu: a drive that answers too late is told from one that does not answer") {
  Scene scene(0); // its patience is 60 ms
  scene.bridge.spoil([](Bytes reply) {
    std::this_thread::sleep_for(std::chrono::milliseconds(90));
    return reply;
  });
  const auto request = read_request(3, Function::read_holding, 5, 1);
  CHECK_FALSE(scene.ask(request).ok());
  const auto answer = scene.ask(request); // by now the first one's reply has come
  REQUIRE_FALSE(answer.ok());
  CHECK_THAT(to_text(answer.fault()),
             Catch::Matchers::ContainsSubstring("it does answer, but too late") &&
                 Catch::Matchers::ContainsSubstring("raise \"within_ms\""));
}

TEST_CASE("rtu: a damaged, short, lost or late reply costs a retry and nothing else") {
  struct Case {
    const char* name;
    Bridge::Spoil spoil;
  };
  const Case cases[] = {
      {"wrong CRC", with_wrong_crc},
      {"short", [](Bytes reply) { return Bytes(reply.begin(), reply.begin() + 3); }},
      {"lost", [](Bytes) { return Bytes{}; }},
      {"another unit's instead", [](Bytes) { return of_unit(9); }},
      {"another answer instead",
       [](Bytes) {
         return modbus::encode_reply(read_request(3, Function::read_input, 0, 2),
                                     std::vector<std::uint16_t>{1, 2});
       }},
  };
  for (const auto& each : cases) {
    CAPTURE(each.name);
    Scene scene;
    REQUIRE(scene.ask(write_request(3, Function::write_one, 20, {77})).ok());
    scene.bridge.spoil(first(1, each.spoil));
    const auto read = scene.ask(read_request(3, Function::read_holding, 20, 1));
    REQUIRE(read.ok());
    CHECK(*read == std::vector<std::uint16_t>{77});
    CHECK(scene.master.counts().unanswered == 1);
  }
}

TEST_CASE("rtu: glitches and another unit's frame in front of a reply cost nothing") {
  Scene scene;
  scene.bridge.spoil([](Bytes reply) {
    Bytes heard = of_unit(9);
    heard.push_back(0xFF);
    heard.insert(heard.end(), reply.begin(), reply.end());
    return heard;
  });
  CHECK(scene.ask(write_request(3, Function::write_one, 20, {77})).ok());
  CHECK(scene.master.counts().unanswered == 0);
}

TEST_CASE("rtu: a late reply is never taken for the answer to the next question") {
  Scene scene(0);
  REQUIRE(scene.ask(write_request(3, Function::write_many, 20, {111, 222})).ok());
  scene.bridge.spoil(first(1, [](Bytes reply) {
    std::this_thread::sleep_for(std::chrono::milliseconds(90)); // given up after some 65
    return reply;
  }));
  CHECK_FALSE(scene.ask(read_request(3, Function::read_holding, 20, 1)).ok());
  const auto next = scene.ask(read_request(3, Function::read_holding, 21, 1));
  REQUIRE(next.ok());
  CHECK(*next == std::vector<std::uint16_t>{222});
  CHECK(scene.master.counts().late == 1);
}

TEST_CASE("rtu: a unit that is not there is said so, with what was heard, after its retries") {
  Scene scene;
  const auto nobody = scene.ask(read_request(4, Function::read_holding, 0, 1));
  REQUIRE_FALSE(nobody.ok());
  CHECK(nobody.fault().kind == FaultKind::link);
  CHECK_THAT(nobody.fault().what, Catch::Matchers::ContainsSubstring("heard: nothing"));
  CHECK(scene.master.counts().questions == 3);
}

TEST_CASE("rtu: what is asked ahead passes the queue, and what it passed is never answered") {
  Scene scene;
  int answered = 0;
  for (int i = 0; i < 20; ++i)
    scene.master.ask(read_request(3, Function::read_holding, 0, 1),
                     [&](const Answer&) { ++answered; });
  bool stopped = false;
  scene.master.ask_ahead(write_request(3, Function::write_one, 20, {9}),
                         [&](const Answer& answer) { stopped = answer.ok(); });
  scene.serve([&] { return stopped; });
  CHECK(stopped);
  CHECK(answered == 0);
  CHECK(scene.master.idle());
}

TEST_CASE("rtu: a stop does not wait for a drive that has gone silent") {
  Scene scene;
  scene.bridge.spoil([](Bytes) { return Bytes{}; });
  bool first_sent = false;
  scene.master.ask(read_request(3, Function::read_holding, 0, 1), [](const Answer&) {});
  scene.serve([&] { return first_sent = !scene.bridge.heard_from_host().empty(); });
  REQUIRE(first_sent);
  scene.serve([] { return false; }, 0.02); // the frame has left; its reply is waited for
  const auto stop = write_request(3, Function::write_one, 0, {0});
  const auto asked = TestClock::now();
  scene.master.ask_ahead(stop, [](const Answer&) {});
  Bytes heard;
  scene.serve([&] {
    const auto more = scene.bridge.heard_from_host();
    heard.insert(heard.end(), more.begin(), more.end());
    return !heard.empty();
  });
  CHECK(heard == modbus::encode(stop));
  // The bench measures it; here only that it was not the 60 ms of the reply's time.
  CHECK(seconds_since(asked) < 0.05);
}
