#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "catch.hpp"
#include "pty_pair.hpp"
#include "whirler/drive/serial_port.hpp"

#include <boost/asio/steady_timer.hpp>

#include <filesystem>
#include <functional>

using namespace whirler;
using namespace whirler::drive;
using whirler::test::PtyPair;

namespace {

using Bytes = std::vector<std::uint8_t>;

/// Serves the context until `done`, at most two seconds.
bool serve(boost::asio::io_context& context, const std::function<bool()>& done) {
  boost::asio::steady_timer patience(context, std::chrono::seconds(2));
  bool over = false;
  patience.async_wait([&over](boost::system::error_code error) { over = !error; });
  while (!done() && !over)
    context.run_one();
  return done();
}

} // namespace

TEST_CASE("serial: bytes go both ways unchanged, every value of a byte") {
  PtyPair line;
  boost::asio::io_context context;
  auto port = SerialPort::open(context, line.path(), 115200);
  REQUIRE(port.ok());
  Bytes all(256), heard;
  for (std::size_t i = 0; i < all.size(); ++i)
    all[i] = static_cast<std::uint8_t>(i);
  port->listen([&](auto bytes) { heard.insert(heard.end(), bytes.begin(), bytes.end()); },
               [](const Fault&) {});
  line.write(all);
  CHECK(serve(context, [&] { return heard.size() >= all.size(); }));
  CHECK(heard == all);
  port->send(all);
  Bytes arrived;
  for (int i = 0; i < 10 && arrived.size() < all.size(); ++i) {
    context.poll();
    const auto more = line.read(50);
    arrived.insert(arrived.end(), more.begin(), more.end());
  }
  CHECK(arrived == all);
}

TEST_CASE("serial: a symbolic link such as /dev/serial/by-id has works like the port itself") {
  PtyPair line;
  const auto link =
      std::filesystem::temp_directory_path() / ("whirler_port_" + std::to_string(getpid()));
  std::filesystem::create_symlink(line.path(), link);
  boost::asio::io_context context;
  CHECK(SerialPort::open(context, link.string(), 500000).ok());
  std::filesystem::remove(link);
}

TEST_CASE("serial: a speed without a POSIX name is set on the line") {
  PtyPair line;
  boost::asio::io_context context;
  CHECK(SerialPort::open(context, line.path(), 250000).ok());
  CHECK_FALSE(SerialPort::open(context, line.path(), 0).ok());
}

TEST_CASE("serial: a missing port, a file, a folder and a busy port are named as what they are") {
  boost::asio::io_context context;
  const auto fault_of = [&](const std::string& path) {
    const auto opened = SerialPort::open(context, path, 115200);
    REQUIRE_FALSE(opened.ok());
    CHECK(opened.fault().kind == FaultKind::link);
    CHECK(opened.fault().where == path);
    return opened.fault().what;
  };
  CHECK(fault_of("/dev/ttyNONE7") == "there is no such port");
  CHECK(fault_of("/dev/null") == "this is no serial port");
  CHECK(fault_of("/tmp") == "this is no serial port");
  PtyPair line;
  const auto first = SerialPort::open(context, line.path(), 115200);
  REQUIRE(first.ok());
  CHECK(fault_of(line.path()) == "the port is busy");
}

TEST_CASE("serial: a port is free again once its owner has closed it") {
  PtyPair line;
  boost::asio::io_context context;
  for (int round = 0; round < 3; ++round)
    CHECK(SerialPort::open(context, line.path(), 115200).ok());
}

TEST_CASE("serial: a cable pulled out is told once") {
  PtyPair line;
  boost::asio::io_context context;
  auto port = SerialPort::open(context, line.path(), 115200);
  REQUIRE(port.ok());
  int told = 0;
  port->listen([](auto) {},
               [&](const Fault& fault) {
                 ++told;
                 CHECK(fault.kind == FaultKind::link);
               });
  line.unplug();
  CHECK(serve(context, [&] { return told > 0; }));
  context.poll();
  CHECK(told == 1);
  CHECK_FALSE(port->is_open());
}

TEST_CASE("serial: what is sent ahead passes a full line") {
  PtyPair line; // nobody reads the far end: the line fills
  boost::asio::io_context context;
  auto port = SerialPort::open(context, line.path(), 115200);
  REQUIRE(port.ok());
  port->listen([](auto) {}, [](const Fault&) {});
  for (int i = 0; i < 100; ++i)
    port->send(Bytes(4096, 0x55));
  context.poll();
  const Bytes stop(4, 0xC0);
  CHECK(port->send_ahead(stop));
  Bytes arrived = line.read();
  for (Bytes more = line.read(100); !more.empty(); more = line.read(100))
    arrived.insert(arrived.end(), more.begin(), more.end());
  const auto at = std::search(arrived.begin(), arrived.end(), stop.begin(), stop.end());
  CHECK(at != arrived.end());
  CHECK(arrived.size() < 100 * 4096); // what was still queued is dropped
}
