// The simulated spinner through a real pseudo-terminal, with a client that knows only the port.
#include "catch.hpp"
#include "whirler/drive/simulated_drive.hpp"
#include "whirler/link/messages.hpp"

#include <array>
#include <chrono>
#include <cmath>
#include <fcntl.h>
#include <filesystem>
#include <fstream>
#include <functional>
#include <poll.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

using namespace whirler;
using namespace whirler::drive;

namespace {

using WallClock = std::chrono::steady_clock;

/// A client of some lines: opens a port, answers every report with a keep-alive.
class Client {
 public:
  explicit Client(const std::string& port) : port_(::open(port.c_str(), O_RDWR | O_NOCTTY)) {}
  ~Client() { leave(); }
  Client(const Client&) = delete;
  Client& operator=(const Client&) = delete;

  [[nodiscard]] bool is_open() const { return port_ >= 0; }
  void leave() {
    if (port_ >= 0)
      ::close(port_);
    port_ = -1;
  }
  void say(const link::HostMessage& message) { write(link::encode(message, seq_++)); }
  void write(std::span<const std::uint8_t> bytes) {
    REQUIRE(::write(port_, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
  }
  /// Reads and keeps alive until `reached`; false after `most` or when the line ends.
  bool serve(const std::function<bool()>& reached, Duration most = seconds(20)) {
    const auto end = WallClock::now() + std::chrono::duration<double>(most.s());
    while (WallClock::now() < end && !line_ended) {
      if (reached())
        return true;
      pollfd watched{port_, POLLIN, 0};
      if (poll(&watched, 1, 50) > 0)
        read();
    }
    return reached();
  }
  bool accepts(const link::HostMessage& message) {
    acks = 0;
    say(message);
    return serve([this] { return acks > 0; }, seconds(2));
  }
  bool begin() {
    say(link::Hello{1, 1, 5});
    if (!serve([this] { return greeted; }, seconds(5)))
      return false;
    const link::Segment only{0, rpm(1500), rpm_per_s(3000), seconds(4)};
    const std::array<link::Segment, 1> program{only};
    return accepts(link::Clear{}) && accepts(only) &&
           accepts(
               link::Start{1, rpm_per_s(3000), false, rpm(6000), link::program_crc(program), 9});
  }
  bool claim() { return ioctl(port_, TIOCEXCL) == 0; }
  bool is_claimed() {
    int claimed = 0;
    ioctl(port_, TIOCGEXCL, &claimed);
    return claimed != 0;
  }

  int acks = 0;
  bool greeted = false;
  bool keeps_alive = true;
  bool line_ended = false;
  link::Status last;
  std::uint64_t pulses = 0;

 private:
  void read() {
    std::array<std::uint8_t, 4096> part{};
    const ssize_t count = ::read(port_, part.data(), part.size());
    if (count <= 0) {
      line_ended = true;
      return;
    }
    for (const auto& frame :
         decoder_.feed(std::span(part).first(static_cast<std::size_t>(count)))) {
      const auto read = link::decode_driver(frame);
      if (const auto* message = std::get_if<link::DriverMessage>(&read))
        take(*message);
    }
  }
  void take(const link::DriverMessage& message) {
    acks += std::holds_alternative<link::Ack>(message) ? 1 : 0;
    greeted = greeted || std::holds_alternative<link::HelloReply>(message);
    if (const auto* batch = std::get_if<link::Pulses>(&message))
      pulses += batch->count();
    if (const auto* status = std::get_if<link::Status>(&message)) {
      last = *status;
      if (keeps_alive)
        say(link::KeepAlive{status->report});
    }
  }

  int port_;
  std::uint8_t seq_ = 0;
  link::Decoder decoder_;
};

SimulationOptions options(double speed_up, const char* fault = nullptr) {
  SimulationOptions made;
  made.setup = plant::make_setup(plant::plain_machine(), std::nullopt).value();
  made.speed_up = speed_up;
  if (fault != nullptr)
    made.setup.faults.push_back(plant::parse_fault(fault).value());
  return made;
}

} // namespace

TEST_CASE("a client runs a whole program on the simulated spinner's port, faster than real") {
  const auto spinner = SimulatedDrive::start(options(20)).value();
  Client client(spinner.port());
  REQUIRE(client.is_open());
  REQUIRE(client.begin());
  CHECK(client.serve([&] { return client.last.state == link::DriverState::latched; }));
  CHECK(client.last.latch == link::Latch::done);
  CHECK(client.pulses > 500);
  CHECK_FALSE(spinner.truth().enabled);
}

TEST_CASE("in real time a driver's second is a second of the wall") {
  const auto spinner = SimulatedDrive::start(options(1)).value();
  Client client(spinner.port());
  client.say(link::Hello{});
  REQUIRE(client.serve([&] { return client.last.clock_ms != 0; }, seconds(2)));
  const auto wall = WallClock::now();
  const std::uint32_t before = client.last.clock_ms;
  REQUIRE(client.serve([&] { return client.last.clock_ms >= before + 500; }, seconds(5)));
  const double passed = std::chrono::duration<double>(WallClock::now() - wall).count();
  CHECK(passed > 0.45); // late is the machine's business, early would be ours
}

TEST_CASE("a host that goes away leaves the motor off, at any speed-up") {
  const double speed_up = GENERATE(1.0, 20.0);
  const auto spinner = SimulatedDrive::start(options(speed_up)).value();
  {
    Client client(spinner.port());
    REQUIRE(client.begin());
    REQUIRE(client.serve([&] { return client.last.state == link::DriverState::running; }));
    CHECK(spinner.truth().enabled);
  }
  const auto end = WallClock::now() + std::chrono::seconds(5);
  while (spinner.truth().state != link::DriverState::latched && WallClock::now() < end)
    usleep(1000);
  CHECK(spinner.truth().latch == link::Latch::link_lost);
  CHECK_FALSE(spinner.truth().enabled);
  CHECK(spinner.truth().command == 0.0);
}

TEST_CASE("a stop sequence on the port is obeyed") {
  const auto spinner = SimulatedDrive::start(options(1)).value();
  Client client(spinner.port());
  REQUIRE(client.begin());
  REQUIRE(client.serve([&] { return client.last.state == link::DriverState::running; }));
  client.write(link::stop_sequence(link::StopKind::cut));
  CHECK(client.serve([&] { return client.last.latch == link::Latch::operator_cut; }, seconds(2)));
  CHECK_FALSE(spinner.truth().enabled);
}

TEST_CASE("a pulled cable ends the client's line, and the motor") {
  const auto spinner = SimulatedDrive::start(options(20, "cable@1s")).value();
  Client client(spinner.port());
  REQUIRE(client.begin());
  CHECK_FALSE(client.serve([] { return false; }));
  CHECK(client.line_ended);
  const auto end = WallClock::now() + std::chrono::seconds(5);
  while (spinner.truth().latch != link::Latch::link_lost && WallClock::now() < end)
    usleep(1000);
  CHECK(spinner.truth().latch == link::Latch::link_lost);
}

TEST_CASE("a client finds nothing of the one before: no claim, no stale bytes") {
  const auto spinner = SimulatedDrive::start(options(1)).value();
  {
    Client first(spinner.port());
    first.say(link::Hello{});
    REQUIRE(first.serve([&] { return first.greeted; }, seconds(5)));
    REQUIRE(first.claim());
  }
  usleep(100000); // reports that nobody reads would pile up now
  Client second(spinner.port());
  REQUIRE(second.is_open());
  CHECK_FALSE(second.is_claimed());
  second.say(link::Hello{1, 1, 99});
  REQUIRE(second.serve([&] { return second.last.clock_ms != 0; }, seconds(2)));
  CHECK(second.last.report > 3); // not the first client's first ones
}

TEST_CASE("a link to the port is made, replaced when stale, and taken away at the end") {
  namespace fs = std::filesystem;
  const fs::path folder = fs::temp_directory_path() / ("whirler-link-" + std::to_string(getpid()));
  fs::create_directories(folder);
  const fs::path link = folder / "spinner";
  fs::create_symlink("/nowhere", link);
  auto asked = options(1);
  asked.link = link.string();
  {
    const auto spinner = SimulatedDrive::start(asked).value();
    CHECK(fs::read_symlink(link) == spinner.port());
    Client client(link.string());
    CHECK(client.is_open());
  }
  CHECK_FALSE(fs::exists(fs::symlink_status(link)));
  std::ofstream(link) << "a file of somebody's";
  const auto refused = SimulatedDrive::start(asked);
  REQUIRE_FALSE(refused.ok());
  CHECK(refused.fault().where == link.string());
  CHECK(fs::file_size(link) > 0);
  fs::remove_all(folder);
}

TEST_CASE("a speed-up that makes no sense is refused") {
  for (const double speed_up : {0.0, -1.0, 0.5, 1000.0, std::nan("")}) {
    CAPTURE(speed_up);
    CHECK_FALSE(SimulatedDrive::start(options(speed_up)).ok());
  }
}
