// The master of a Modbus RTU line: one question at a time, its answer or why there was none.
// Nothing here blocks; everything runs inside the io_context.
//
//   question ──silence──> frame ──> [reply within] ──> answer ──silence──> next question
//                                        └─ none: listened to for as long again, then asked again
//
// Late replies. A reply to a read does not say what was read, so one that comes after its question
// was given up could pass for the answer to the next: a speed taken for a fault word. So after a
// time-out the line is listened to for as long again before anything else is asked.
//
// Stops. `ask_ahead` goes past everything that waits, and does not wait for an answer that is due:
//   - a question that is still going out is cut off, which every slave drops after the silence;
//   - one that is nearly out (the rest may be in the port's own buffer), or out with its silence
//     not yet over, gets a character more: a frame with a wrong CRC, which every slave drops too;
//   - a reply that is due or coming in is let in, since a drive that talks cannot listen, but no
//     longer than kBreakIn: then the stop is sent over it. What is sent blind may collide:
//     unanswered 5 ms and a reply's length later it has failed. Whoever asks again has twice the
//     longest time that this drive's answers have taken so far, and 5 ms; then twice that, and so
//     on up to the whole patience, which it has from the second try where no answers were timed.
// The silence behind our own last character stands in each case. So from the request to the last
// byte's end a stop takes its own frame and at most 5 ms; at 9600 baud and slower a character and a
// silence are longer than that, and stand instead.
//
// libmodbus was considered, and measured in tools/bench_modbus: its calls block, so that a stop
// waits for the reply, or for the time-out, of whatever is being asked. With a drive that answers
// at once both are alike; with one that has gone silent, which is when a stop matters most, a stop
// behind libmodbus waits for the whole response time-out. Splitting its calls (send_raw_request and
// receive_confirmation) leaves the second one blocking still. So it serves as the tests' other end,
// where it belongs to somebody else, and not here.
//
// Rejected: broadcasts (see modbus/frame.hpp), and a thread for the line: the run's loop would then
// no longer be what feeds the drive's dead-man.
#pragma once

#include "whirler/drive/serial_port.hpp"
#include "whirler/modbus/frame.hpp"
#include "whirler/units/line_format.hpp"
#include "whirler/units/result.hpp"

#include <boost/asio/io_context.hpp>

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace whirler::drive {

/// How long a stop may be held back by a reply that is under way.
inline constexpr Duration kBreakIn = milliseconds(4.5);

/// What has gone wrong on the line since it was opened.
struct LineCounts {
  std::uint64_t questions = 0; ///< frames sent
  std::uint64_t unanswered = 0;
  std::uint64_t damaged = 0; ///< of the unanswered: too short, or with a wrong CRC
  std::uint64_t foreign = 0; ///< of the unanswered: another unit or another answer was heard
  std::uint64_t late = 0;    ///< replies that came after their question was given up
  std::uint64_t busy = 0;    ///< exceptions 05 and 06: asked again
  std::uint64_t echoed = 0;  ///< answers behind our own question
};

struct LinePatience {
  Duration reply_within; ///< from the question's last character to the reply's first
  int retries = 0;
};

class RtuMaster {
 public:
  /// The registers that were read (none for a write). Faults: link, nobody answered, and what was
  /// heard instead; input, the drive refused, in words.
  using OnAnswer = std::function<void(const Result<std::vector<std::uint16_t>>&)>;
  using OnLost = std::function<void(const Fault&)>;

  /// `on_lost` as in SerialPort.
  RtuMaster(boost::asio::io_context& context, SerialPort port, std::string port_name,
            const LineFormat& line, const LinePatience& patience, OnLost on_lost);
  RtuMaster(const RtuMaster&) = delete;
  RtuMaster& operator=(const RtuMaster&) = delete;
  ~RtuMaster();

  void ask(modbus::Request request, OnAnswer on_answer);
  /// Drops every question, whose answers never come, and asks this one first. Tried once.
  void ask_ahead(modbus::Request request, OnAnswer on_answer);
  /// Forgets every question; what was asked is not answered any more.
  void drop_all();
  /// Writes now, whatever is under way, and expects nothing: for a program that is about to end.
  void shout(const modbus::Request& request);
  [[nodiscard]] bool idle() const;
  /// The longest silence between two of its frames, and from the last until now, since it was last
  /// forgotten; by a clock that goes on while the computer sleeps.
  [[nodiscard]] Duration longest_unspoken() const;
  void forget_unspoken();
  [[nodiscard]] const LineCounts& counts() const;

 private:
  struct Line;
  std::shared_ptr<Line> line_;
};

} // namespace whirler::drive
