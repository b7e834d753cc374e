#include <utility> // ahead of Asio, see serial_port.cpp

#include "whirler/drive/link_drive.hpp"

#include "link_words.hpp"
#include "serve_until.hpp"
#include "wall_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <vector>

namespace whirler::drive {
namespace {

using std::chrono::milliseconds;

/// A report that was under way when the stop was sent may show "off" from before a start that the
/// driver has not read yet. After this many repetitions, 20 ms apart, no such report is left.
constexpr int kTimesBeforeBelieved = 3;

constexpr int kTries = 5; ///< a question on a poor line is asked so often, 200 ms apart

std::vector<link::Segment> link_segments(const Program& program) {
  std::vector<link::Segment> segments;
  for (const auto& segment : program.segments)
    segments.push_back(
        {static_cast<std::uint8_t>(segments.size()), segment.target, segment.slope, segment.dwell});
  return segments;
}

} // namespace

LinkDrive::LinkDrive(boost::asio::io_context& context, SerialPort port, std::string port_name,
                     std::uint32_t nonce)
    : context_(context), port_(std::move(port)), port_name_(std::move(port_name)), nonce_(nonce),
      token_(nonce | 1U) {
  port_.listen([this](std::span<const std::uint8_t> bytes) { on_bytes(bytes); },
               [this](const Fault& fault) { on_lost(fault); });
}

LinkDrive::~LinkDrive() {
  if (started_)
    port_.send_ahead(link::stop_sequence(link::StopKind::cut));
}

bool LinkDrive::serve_until(const std::function<bool()>& done, WallClock::duration patience,
                            const std::function<bool()>& give_up) {
  return drive::serve_until(context_, done, patience, lost_, give_up);
}

Result<Identity> LinkDrive::greet(Listener& listener, Duration patience,
                                  const std::function<bool()>& give_up) {
  listener_ = &listener;
  const auto until = WallClock::now() + wall_time(patience);
  const auto answered = [this] { return greeting_.has_value(); };
  // Opening the port may have reset the board: it is asked again and again through its boot.
  while (!answered() && !lost_ && WallClock::now() < until) {
    port_.send(
        link::encode(link::Hello{link::kProtocolVersion, link::kProtocolVersion, nonce_}, seq_++));
    serve_until(answered, wall_time(link::kAnswerTimeout), give_up);
    if (give_up && give_up())
      return out_of_touch("given up while waiting for the driver");
  }
  if (lost_)
    return *lost_;
  if (!greeting_)
    return silent(patience);
  // A driver of another version answers, and says nothing more.
  if (!link::common_version(link::Hello{}, *greeting_))
    return accept(*greeting_);
  // The lid is known only from a report.
  if (!serve_until([this] { return last_status_.has_value(); }, wall_time(seconds(1)), give_up))
    return lost_ ? *lost_ : out_of_touch("the driver answered but sends no reports");
  return accept(*greeting_);
}

Fault LinkDrive::silent(Duration waited) const {
  const std::string time = number_text(waited.s()) + " s";
  if (bytes_heard_ == 0)
    return {FaultKind::link, "the driver said nothing for " + time, port_name_,
            "check its supply, the cable and \"port\""};
  return {FaultKind::link,
          "no sense in " + std::to_string(bytes_heard_) + " bytes heard in " + time, port_name_,
          "check \"baud\", and that a whirler driver is at this port"};
}

Fault LinkDrive::out_of_touch(std::string what) const {
  return {FaultKind::link, std::move(what), port_name_, "check the cable and start again"};
}

Result<Identity> LinkDrive::accept(const link::HelloReply& reply) const {
  const link::Hello ours;
  if (!link::common_version(ours, reply))
    return Fault{FaultKind::link,
                 "the driver speaks protocol " + std::to_string(reply.protocol_min) + " to " +
                     std::to_string(reply.protocol_max) + ", this program " +
                     std::to_string(ours.protocol_min) + " to " + std::to_string(ours.protocol_max),
                 port_name_, "update the older of the two"};
  if (reply.tach_only)
    return Fault{FaultKind::link, "this driver only counts pulses and turns nothing", port_name_,
                 "name the port of the motor's driver"};
  return identity_from(reply, *last_status_);
}

Outcome LinkDrive::ask(const link::HostMessage& message, const std::string& doing) {
  const std::uint8_t seq = seq_++; // one for every repetition: the driver does the work once
  const auto bytes = link::encode(message, seq);
  for (int attempt = 0; attempt < kTries && !lost_; ++attempt) {
    answer_.reset();
    port_.send(bytes);
    const auto answered = [this, seq] { return answer_ && answer_->seq == seq; };
    if (!serve_until(answered, wall_time(link::kAnswerTimeout)))
      continue;
    if (!answer_->refusal)
      return Done{};
    return Fault{FaultKind::input, "the driver refused: " + link::to_text(*answer_->refusal), doing,
                 "mend the profile or the machine file"};
  }
  return lost_ ? *lost_ : out_of_touch("the driver did not answer while " + doing);
}

Outcome LinkDrive::start_program(const Program& program) {
  const auto segments = link_segments(program);
  if (auto cleared = ask(link::Clear{}, "clearing the latch"); !cleared)
    return cleared;
  for (const auto& segment : segments)
    if (auto sent = ask(segment, "sending step " + std::to_string(segment.index + 1)); !sent)
      return sent;
  link::Start start;
  start.segments = static_cast<std::uint8_t>(segments.size());
  start.stop_slope = program.stop_slope;
  start.lid_confirmed = program.lid_confirmed;
  start.ceiling = program.ceiling;
  start.program_crc = link::program_crc(segments);
  start.token = token_;
  started_ = true; // from here on every way out commands the motor off
  auto begun = ask(start, "starting");
  if (!begun)
    command_cut();
  return begun;
}

void LinkDrive::keep_alive() {
  if (last_status_)
    port_.send(link::encode(link::KeepAlive{last_status_->report}, seq_++));
}

void LinkDrive::command(link::StopKind kind) {
  if (pending_stop_ != link::StopKind::cut)
    pending_stop_ = kind;
  times_sent_ = 0;
  repeat_stop();
}

void LinkDrive::command_stop() { command(link::StopKind::stop); }
void LinkDrive::command_cut() { command(link::StopKind::cut); }

void LinkDrive::repeat_stop() {
  if (!pending_stop_)
    return;
  port_.send_ahead(link::stop_sequence(*pending_stop_));
  ++times_sent_;
}

void LinkDrive::on_bytes(std::span<const std::uint8_t> bytes) {
  bytes_heard_ += bytes.size();
  decoder_.feed(bytes, [this](const link::Frame& frame) { on_frame(frame); });
}

void LinkDrive::on_frame(const link::Frame& frame) {
  const auto decoded = link::decode_driver(frame);
  if (const auto* message = std::get_if<link::DriverMessage>(&decoded))
    std::visit([this](const auto& known) { on_message(known); }, *message);
}

void LinkDrive::on_message(const link::HelloReply& reply) {
  if (reply.nonce != nonce_ || greeting_)
    return;
  greeting_ = reply;
  last_status_.reset(); // what was heard before the answer may be another program's run
  unwrapper_.emplace(reply);
}

void LinkDrive::on_message(const link::Ack& ack) { answer_ = Answer{ack.type, ack.seq, {}}; }

void LinkDrive::on_message(const link::Nak& nak) {
  answer_ = Answer{nak.type, nak.seq, nak};
  // Only a driver that was reset has forgotten the greeting: its motor is off, and stays off.
  if (started_ && nak.code == link::NakCode::no_hello)
    on_lost({FaultKind::link, "the driver was reset while the run went on", port_name_,
             "check its supply and the motor's, then start again"});
}

void LinkDrive::on_message(const link::Status& status) {
  if (!greeting_)
    return;
  const auto previous = last_status_ ? last_status_->clock_ms : status.clock_ms;
  clock_ms_ +=
      static_cast<std::uint32_t>(status.clock_ms - previous); // modulo 2^32: a wrap is fine
  last_status_ = status;
  const bool ours = started_ && status.token == token_;
  if (pending_stop_ && times_sent_ >= kTimesBeforeBelieved && obeys(status, *pending_stop_))
    pending_stop_.reset();
  if (ours && status.state == link::DriverState::latched && status.still)
    started_ = false;
  if (listener_ != nullptr)
    listener_->on_report(report_from(status, milliseconds_of(clock_ms_), ours));
}

void LinkDrive::on_message(const link::Pulses& batch) {
  if (!unwrapper_ || listener_ == nullptr)
    return;
  const auto pulses = unwrapper_->add(batch);
  listener_->on_pulses({pulses.ticks, pulses.marks, pulses.missing_before});
}

void LinkDrive::on_lost(const Fault& fault) {
  lost_ = fault;
  if (listener_ != nullptr)
    listener_->on_lost(fault);
}

} // namespace whirler::drive
