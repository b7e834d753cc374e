#include <utility> // ahead of Asio, see serial_port.cpp

#include "whirler/drive/rtu_master.hpp"

#include "wall_time.hpp"
#include "whirler/drive/clock_with_sleep.hpp"
#include "whirler/units/text.hpp"

#include <boost/asio/steady_timer.hpp>

#include <algorithm>
#include <chrono>
#include <deque>
#include <optional>

namespace whirler::drive {
namespace {

using Clock = std::chrono::steady_clock;

/// A blind stop that met a reply is lost: it is given so long, and its reply's own time, to be
/// answered before it is sent again. Then it has the patience that this drive's answers have shown
/// to be enough: what is sent sooner than a slow drive answers would meet its answers for ever.
constexpr Duration kBlindPatience = milliseconds(5);
/// So many answers must have been timed before a stop is waited for no longer than they took.
constexpr int kTimedLeast = 4;
constexpr int kTimedMost = 64; ///< and then the slowest of them is forgotten
/// By so much a timer may come late on a busy computer.
constexpr Duration kLateness = milliseconds(0.5);
/// Until a drive that said "busy" (06) or "not finished" (05) is asked again.
constexpr Duration kBusyPause = milliseconds(20.0);
/// More than any frame, so that noise on the line cannot fill memory.
constexpr std::size_t kHeardMost = 4 * modbus::kFrameMost;

/// How long this drive takes to answer: the slowest of the last 64 to 128 answers.
class AnswerTimes {
 public:
  void add(Duration taken) {
    slowest_ = std::max(slowest_, taken);
    ++count_;
    if (count_ < kTimedMost)
      return;
    before_ = std::exchange(slowest_, Duration{});
    count_ = kTimedLeast;
  }
  /// None until a few have been timed.
  [[nodiscard]] std::optional<Duration> slowest() const {
    return count_ < kTimedLeast ? std::nullopt : std::optional(std::max(slowest_, before_));
  }

 private:
  Duration slowest_, before_;
  int count_ = 0;
};

struct Question {
  modbus::Request request;
  RtuMaster::OnAnswer on_answer;
  int tries_left = 1;
  bool ahead = false;
};

} // namespace

struct RtuMaster::Line : std::enable_shared_from_this<Line> {
  Line(boost::asio::io_context& context, SerialPort opened, std::string name,
       const LineFormat& line_format, const LinePatience& line_patience)
      : port(std::move(opened)), port_name(std::move(name)), format(line_format),
        patience(line_patience), timer(context) {}

  void on_bytes(std::span<const std::uint8_t> bytes);
  void next();
  void wait_until(Clock::time_point when);
  void on_timer();
  void send();
  void on_silence();
  void answered(const modbus::Reply& reply);
  [[nodiscard]] bool ask_again_later(std::uint8_t exception);
  [[nodiscard]] Fault refusal(const modbus::Request& request, std::uint8_t exception) const;
  void finish(const Result<std::vector<std::uint16_t>>& result);
  void listen_for_end();
  void break_in();
  [[nodiscard]] Clock::time_point may_send_at() const;
  [[nodiscard]] Duration wait_for(const Question& question, bool blind) const;
  [[nodiscard]] Fault too_late(const modbus::Request& request) const;
  [[nodiscard]] Fault nobody(const modbus::Request& request, modbus::Heard what) const;
  void count(modbus::Heard what);

  SerialPort port;
  std::string port_name;
  LineFormat format;
  LinePatience patience;
  boost::asio::steady_timer timer;
  std::deque<Question> queue;
  std::optional<Question> asked;           ///< and waited for
  std::optional<modbus::Request> given_up; ///< its reply may still come
  bool unsure = false; ///< a stop waits that may meet the reply to the question before it
  std::vector<std::uint8_t> heard;
  Clock::time_point heard_at{}; ///< the last character that was heard
  Clock::time_point free_at{};  ///< the silence has been kept by then
  Clock::time_point sent_by{};  ///< the last question's last character has left
  Clock::time_point break_in_at = Clock::time_point::max(); ///< a stop waits no longer than that
  AnswerTimes times;
  int stops_unheard = 0; ///< one after another
  Duration spoken_at = clock_with_sleep();
  Duration longest_unspoken;
  Duration latest; ///< of the late replies, from the question's last character
  LineCounts counts;
};

/// From the question's last character to the reply's first. A stop that this drive would have
/// answered by now is lost and sent again, each time after twice as long: a drive that is slower
/// than it was is not talked over for ever.
Duration RtuMaster::Line::wait_for(const Question& question, bool blind) const {
  if (!question.ahead)
    return patience.reply_within;
  Duration most = patience.reply_within;
  if (const auto slowest = times.slowest()) {
    const double doubled = 1 << std::min(stops_unheard, 8);
    most = std::min(most, doubled * (2.0 * *slowest + kBlindPatience));
  }
  return blind ? std::min(most, kBlindPatience) : most;
}

/// The earliest moment for the first of the queue. Whatever it breaks into, the silence behind our
/// own last character stands: without it two frames are one, which nobody hears.
Clock::time_point RtuMaster::Line::may_send_at() const {
  if (!queue.front().ahead)
    return free_at;
  return std::max(sent_by + wall_time(modbus::silence(format)), std::min(free_at, break_in_at));
}

void RtuMaster::Line::next() {
  if (asked || queue.empty() || !port.is_open())
    return;
  const auto when = may_send_at();
  if (Clock::now() >= when)
    send();
  else
    wait_until(when);
}

void RtuMaster::Line::wait_until(Clock::time_point when) {
  timer.expires_at(when);
  timer.async_wait([self = weak_from_this()](boost::system::error_code error) {
    if (const auto line = self.lock(); line && !error)
      line->on_timer();
  });
}

void RtuMaster::Line::on_timer() {
  if (!asked)
    return next();
  if (Clock::now() >= timer.expiry())
    on_silence();
}

void RtuMaster::Line::send() {
  asked = std::move(queue.front());
  queue.pop_front();
  const auto now = Clock::now();
  const bool blind = std::exchange(unsure, false);
  const auto bytes = modbus::encode(asked->request);
  heard.clear();
  given_up.reset();
  ++counts.questions;
  const Duration spoken = clock_with_sleep();
  longest_unspoken = std::max(longest_unspoken, spoken - spoken_at);
  spoken_at = spoken;
  if (asked->ahead)
    port.send_ahead(bytes);
  else
    port.send(bytes);
  break_in_at = Clock::time_point::max();
  sent_by = now + wall_time(format.time_of(bytes.size()));
  const Duration within = wait_for(*asked, blind);
  wait_until(sent_by + wall_time(within + format.time_of(modbus::reply_size(asked->request))));
}

void RtuMaster::Line::on_bytes(std::span<const std::uint8_t> bytes) {
  const auto now = Clock::now();
  if (heard.size() + bytes.size() > kHeardMost)
    heard.clear();
  heard.insert(heard.end(), bytes.begin(), bytes.end());
  heard_at = now;
  if (asked) {
    if (const auto reply = modbus::find_reply(asked->request, heard))
      answered(*reply);
    return;
  }
  const auto quiet = now + wall_time(modbus::silence(format));
  if (given_up && modbus::find_reply(*given_up, heard)) {
    ++counts.late;
    latest = std::max(latest, seconds(std::chrono::duration<double>(now - sent_by).count()));
    given_up.reset();
    unsure = false;
    free_at = quiet; // the line need not be listened to any longer
  } else {
    free_at = std::max(free_at, quiet);
  }
  next();
}

void RtuMaster::Line::answered(const modbus::Reply& reply) {
  const auto own = modbus::encode(asked->request);
  if (reply.from >= own.size() && std::equal(own.begin(), own.end(), heard.begin()))
    ++counts.echoed;
  const auto now = Clock::now();
  free_at = now + wall_time(modbus::silence(format));
  const std::chrono::duration<double> waited = now - sent_by;
  times.add(std::max(Duration{}, seconds(waited.count()) - format.time_of(reply.to - reply.from)));
  stops_unheard = 0;
  if (!reply.exception)
    return finish(reply.values);
  if (!ask_again_later(*reply.exception))
    finish(refusal(asked->request, *reply.exception));
}

/// Exceptions 05 and 06 are no refusals (application protocol V1.1b3, 7): the drive is at it, or
/// wants to be asked again.
bool RtuMaster::Line::ask_again_later(std::uint8_t exception) {
  if (!modbus::is_for_later(exception))
    return false;
  ++counts.busy;
  if (--asked->tries_left <= 0)
    return false;
  timer.cancel();
  queue.push_front(std::move(*asked));
  asked.reset();
  heard.clear();
  free_at = std::max(free_at, Clock::now() + wall_time(kBusyPause));
  next();
  return true;
}

Fault RtuMaster::Line::refusal(const modbus::Request& request, std::uint8_t exception) const {
  const std::string said = "the drive refused " + modbus::to_text(request) + ": " +
                           modbus::exception_text(exception, request.function);
  const std::string where = port_name + ", unit " + std::to_string(request.unit);
  if (modbus::is_for_later(exception))
    return {FaultKind::ended_early, said + ", " + std::to_string(1 + patience.retries) + " times",
            where, "raise \"retries\" of \"reply\" in the drive's file"};
  return {FaultKind::input, said, where, "compare the drive's file with its manual"};
}

void RtuMaster::Line::finish(const Result<std::vector<std::uint16_t>>& result) {
  const auto self = shared_from_this(); // the answer may be the end of this line's owner
  timer.cancel();
  const auto question = std::move(*asked);
  asked.reset();
  heard.clear();
  if (question.on_answer)
    question.on_answer(result);
  next();
}

/// The reply has not come in its time.
void RtuMaster::Line::on_silence() {
  const auto what = modbus::what_was_heard(asked->request, heard);
  count(what);
  listen_for_end();
  stops_unheard += asked->ahead ? 1 : 0;
  if (--asked->tries_left > 0) {
    queue.push_front(std::move(*asked));
    asked.reset();
    return next();
  }
  finish(nobody(asked->request, what));
}

/// A reply may still come: nothing else is asked for as long again.
void RtuMaster::Line::listen_for_end() {
  given_up = asked->request;
  free_at = Clock::now() + wall_time(patience.reply_within);
}

void RtuMaster::Line::count(modbus::Heard what) {
  ++counts.unanswered;
  if (what == modbus::Heard::damaged || what == modbus::Heard::too_short)
    ++counts.damaged;
  if (what == modbus::Heard::other_unit || what == modbus::Heard::other_answer)
    ++counts.foreign;
}

/// It answers, and not in its time.
Fault RtuMaster::Line::too_late(const modbus::Request& request) const {
  return {FaultKind::link,
          "no answer to " + modbus::to_text(request) + " in " +
              number_text(patience.reply_within.ms(), 3) + " ms; it does answer, but too late: " +
              std::to_string(counts.late) + " times, up to " + number_text(latest.ms(), 3) + " ms",
          port_name + ", unit " + std::to_string(request.unit),
          "raise \"within_ms\" of \"reply\" in the drive's file, or shorten the answer delay in "
          "the drive's own menu"};
}

Fault RtuMaster::Line::nobody(const modbus::Request& request, modbus::Heard what) const {
  if (what == modbus::Heard::nothing && counts.late > 0)
    return too_late(request);
  return {
      FaultKind::link,
      "no answer to " + modbus::to_text(request) + " in " +
          number_text(patience.reply_within.ms(), 3) +
          " ms; heard: " + std::string(modbus::to_text(what)),
      port_name + ", unit " + std::to_string(request.unit),
      what == modbus::Heard::nothing
          ? "check the drive's supply, both wires of the line, \"unit\" and \"baud\""
          : "check \"baud\", \"parity\", the line's ends, and that each unit has its own number"};
}

/// A stop has come: what may be cut off is, what the drive has not yet taken is made void, and what
/// may not be touched is given kBreakIn.
void RtuMaster::Line::break_in() {
  const auto now = Clock::now();
  const auto quiet = wall_time(modbus::silence(format));
  const auto character = wall_time(format.time_of(1));
  break_in_at = now + wall_time(kBreakIn - kLateness);
  if (!asked) { // at most a late reply is being listened for
    if (given_up)
      free_at = std::min(free_at, std::max(sent_by, heard_at) + quiet);
    return;
  }
  const auto ends = std::max(now, sent_by);
  const bool nearly_out = ends - now <= 2 * character || ends + character + quiet <= break_in_at;
  if (now < sent_by && !nearly_out) {
    port.drop_unsent();
    sent_by = now;
    free_at = now + quiet;
  } else {
    given_up = asked->request; // its end is waited for, if it comes
    unsure = !asked->ahead;
    free_at = now + wall_time(patience.reply_within);
    if (heard.empty() && now + character < sent_by + quiet) {
      port.send_ahead({{modbus::voiding(modbus::encode(asked->request))}});
      sent_by = ends + character;
      free_at = sent_by + quiet;
    }
  }
  asked.reset();
}

RtuMaster::RtuMaster(boost::asio::io_context& context, SerialPort port, std::string port_name,
                     const LineFormat& line, const LinePatience& patience, OnLost on_lost)
    : line_(
          std::make_shared<Line>(context, std::move(port), std::move(port_name), line, patience)) {
  const auto weak = std::weak_ptr<Line>(line_);
  line_->port.listen(
      [weak](std::span<const std::uint8_t> bytes) {
        if (const auto self = weak.lock())
          self->on_bytes(bytes);
      },
      [weak, on_lost = std::move(on_lost)](const Fault& fault) {
        if (weak.lock() && on_lost)
          on_lost(fault);
      });
}

RtuMaster::~RtuMaster() { drop_all(); }

void RtuMaster::ask(modbus::Request request, OnAnswer on_answer) {
  line_->queue.push_back(
      {std::move(request), std::move(on_answer), 1 + line_->patience.retries, false});
  line_->next();
}

void RtuMaster::ask_ahead(modbus::Request request, OnAnswer on_answer) {
  line_->queue.clear();
  line_->break_in();
  line_->queue.push_front({std::move(request), std::move(on_answer), 1, true});
  line_->next();
}

void RtuMaster::drop_all() {
  line_->queue.clear();
  line_->timer.cancel();
  if (line_->asked) {
    line_->listen_for_end();
    line_->asked.reset();
  }
}

void RtuMaster::shout(const modbus::Request& request) {
  line_->port.send_ahead(modbus::encode(request));
}

Duration RtuMaster::longest_unspoken() const {
  return std::max(line_->longest_unspoken, clock_with_sleep() - line_->spoken_at);
}
void RtuMaster::forget_unspoken() {
  line_->longest_unspoken = Duration{};
  line_->spoken_at = clock_with_sleep();
}
bool RtuMaster::idle() const { return !line_->asked && line_->queue.empty(); }
const LineCounts& RtuMaster::counts() const { return line_->counts; }

} // namespace whirler::drive
