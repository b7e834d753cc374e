#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "whirler/drive/serial_port.hpp"

#include "line_speed.hpp"

#include <boost/asio/buffer.hpp>
#include <boost/asio/serial_port.hpp>
#include <boost/asio/write.hpp>

#include <array>
#include <cerrno>
#include <deque>
#include <unistd.h>
#include <vector>

namespace whirler::drive {

namespace asio = boost::asio;
using boost::system::error_code;

struct SerialPort::Line : std::enable_shared_from_this<Line> {
  Line(asio::io_context& context, std::string name) : port(context), path(std::move(name)) {}

  void read();
  void write_next();
  void lose(const error_code& error);

  asio::serial_port port;
  std::string path;
  std::array<std::uint8_t, 4096> incoming{};
  std::deque<std::vector<std::uint8_t>> queue;
  bool writing = false;
  bool closed = false; ///< by its owner, who may be gone: nobody is told anything any more
  OnBytes on_bytes;
  OnLost on_lost;
};

namespace {

Fault cannot_open(const std::string& path, const error_code& error) {
  const auto fault = [&](std::string what, std::string next) {
    return Fault{FaultKind::link, std::move(what), path, std::move(next)};
  };
  switch (error.value()) {
  case ENOENT:
  case ENXIO:
  case ENODEV:
    return fault("there is no such port", "plug the driver in; ls /dev/serial/by-id names it");
  case EACCES:
  case EPERM:
    return fault("this user may not open the port", "join the group that owns it (ls -l), often "
                                                    "dialout, and log in again");
  case EBUSY:
    return fault("the port is busy", "end the program that has it open");
  case ENOTTY:
  case EISDIR:
  case EINVAL:
    return fault("this is no serial port", "check \"port\" in the machine file");
  default:
    return fault("the port cannot be opened: " + error.message(), "check the cable and its name");
  }
}

asio::serial_port_base::parity::type parity_of(Parity parity) {
  using parities = asio::serial_port_base::parity;
  if (parity == Parity::none)
    return parities::none;
  return parity == Parity::even ? parities::even : parities::odd;
}

error_code set_up(asio::serial_port& port, const LineFormat& format) {
  using base = asio::serial_port_base;
  error_code error;
  port.set_option(base::character_size(8), error);
  if (!error)
    port.set_option(base::parity(parity_of(format.parity)), error);
  if (!error)
    port.set_option(
        base::stop_bits(format.stop_bits == 2 ? base::stop_bits::two : base::stop_bits::one),
        error);
  if (!error)
    port.set_option(base::flow_control(base::flow_control::none), error);
  return error;
}

} // namespace

SerialPort::SerialPort(std::shared_ptr<Line> line) : line_(std::move(line)) {}
SerialPort::SerialPort(SerialPort&&) noexcept = default;
SerialPort& SerialPort::operator=(SerialPort&&) noexcept = default;
SerialPort::~SerialPort() {
  if (line_)
    close();
}

Result<SerialPort> SerialPort::open(asio::io_context& context, const std::string& path, int baud) {
  return open(context, path, LineFormat{baud, Parity::none, 1});
}

Result<SerialPort> SerialPort::open(asio::io_context& context, const std::string& path,
                                    const LineFormat& format) {
  auto line = std::make_shared<Line>(context, path);
  error_code error;
  line->port.open(path, error);
  if (error)
    return cannot_open(path, error);
  const int descriptor = line->port.native_handle();
  if (!claim(descriptor))
    return cannot_open(path, error_code(EBUSY, boost::system::system_category()));
  error = set_up(line->port, format);
  if (error)
    return cannot_open(path, error);
  if (!set_line_speed(descriptor, format.baud))
    return Fault{FaultKind::link, "the port cannot run at " + std::to_string(format.baud) + " baud",
                 path, "use a speed that both ends have, such as 115200 or 500000"};
  return SerialPort(std::move(line));
}

void SerialPort::listen(OnBytes on_bytes, OnLost on_lost) {
  line_->on_bytes = std::move(on_bytes);
  line_->on_lost = std::move(on_lost);
  line_->read();
}

void SerialPort::Line::read() {
  port.async_read_some(asio::buffer(incoming),
                       [self = shared_from_this()](error_code error, std::size_t count) {
                         if (error)
                           return self->lose(error);
                         if (self->on_bytes)
                           self->on_bytes({self->incoming.data(), count});
                         if (self->port.is_open())
                           self->read();
                       });
}

void SerialPort::Line::lose(const error_code& error) {
  if (closed || error == asio::error::operation_aborted || !port.is_open())
    return;
  error_code ignored;
  port.close(ignored);
  queue.clear();
  if (const auto tell = std::exchange(on_lost, nullptr))
    tell({FaultKind::link, "the port went away: " + error.message(), path,
          "check the cable and the driver's supply, then start again"});
}

void SerialPort::send(std::span<const std::uint8_t> bytes) {
  if (!is_open())
    return;
  line_->queue.emplace_back(bytes.begin(), bytes.end());
  if (!line_->writing)
    line_->write_next();
}

void SerialPort::Line::write_next() {
  writing = !queue.empty() && port.is_open();
  if (!writing)
    return;
  // The buffer must outlive the write even when send_ahead clears the queue: it travels along.
  auto bytes = std::make_shared<std::vector<std::uint8_t>>(std::move(queue.front()));
  queue.pop_front();
  asio::async_write(port, asio::buffer(*bytes),
                    [self = shared_from_this(), bytes](error_code error, std::size_t) {
                      if (error)
                        return self->lose(error);
                      self->write_next();
                    });
}

bool SerialPort::send_ahead(std::span<const std::uint8_t> bytes) {
  if (!is_open())
    return false;
  line_->queue.clear();
  const int descriptor = line_->port.native_handle();
  auto written = ::write(descriptor, bytes.data(), bytes.size());
  if (written != static_cast<ssize_t>(bytes.size())) {
    drive::drop_unsent(descriptor);
    written = ::write(descriptor, bytes.data(), bytes.size());
  }
  return written == static_cast<ssize_t>(bytes.size());
}

// Qualified: the call of line_speed.hpp, not this member.
void SerialPort::drop_unsent() {
  line_->queue.clear();
  if (is_open())
    drive::drop_unsent(line_->port.native_handle());
}

bool SerialPort::is_open() const { return line_->port.is_open(); }

void SerialPort::close() {
  error_code ignored;
  line_->closed = true;
  line_->port.close(ignored);
}

} // namespace whirler::drive
