// A serial line to a motor driver: raw bytes, 8N1 unless another format is asked for, no flow
// control, ours alone while it is open.
//
// Two ways out: `send` queues behind what is already on its way; `send_ahead` writes at once, past
// the queue and past what the kernel still holds, and is for stop sequences only. The line protocol
// lets a stop stand in the middle of a frame, so nothing has to be finished first.
//
// Rejected: reopening the port when it is lost. A line that comes back may have another driver on
// it, or one that was reset; the run ends and a person starts the next.
#pragma once

#include "whirler/units/line_format.hpp"
#include "whirler/units/result.hpp"

#include <boost/asio/io_context.hpp>

#include <cstdint>
#include <functional>
#include <memory>
#include <span>
#include <string>

namespace whirler::drive {

class SerialPort {
 public:
  using OnBytes = std::function<void(std::span<const std::uint8_t>)>;
  using OnLost = std::function<void(const Fault&)>;

  /// Opens `path` at `baud`, 8N1, and claims it: a second whirler, or any other program that asks
  /// before it opens, finds it busy. Symbolic links (/dev/serial/by-id) are followed.
  /// Faults (link): missing, not permitted, busy, not a serial device, speed not possible.
  [[nodiscard]] static Result<SerialPort> open(boost::asio::io_context& context,
                                               const std::string& path, int baud);
  /// The same with parity and stop bits.
  [[nodiscard]] static Result<SerialPort> open(boost::asio::io_context& context,
                                               const std::string& path, const LineFormat& format);
  SerialPort(SerialPort&&) noexcept;
  SerialPort& operator=(SerialPort&&) noexcept;
  ~SerialPort();

  /// Begins to read. `on_lost` comes once, after which nothing is sent or heard any more. Both run
  /// inside the io_context.
  void listen(OnBytes on_bytes, OnLost on_lost);
  void send(std::span<const std::uint8_t> bytes);
  /// Writes now, whatever is queued; frames still in the queue are dropped. True when the kernel
  /// took every byte.
  bool send_ahead(std::span<const std::uint8_t> bytes);
  /// Throws away what the kernel still holds; a frame that is under way arrives cut short.
  void drop_unsent();
  [[nodiscard]] bool is_open() const;
  void close();

 private:
  struct Line;
  explicit SerialPort(std::shared_ptr<Line> line);
  std::shared_ptr<Line> line_;
};

} // namespace whirler::drive
