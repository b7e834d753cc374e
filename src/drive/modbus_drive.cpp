#include <utility> // ahead of Asio, see serial_port.cpp

#include "modbus_watch.hpp"
#include "serve_until.hpp"
#include "wall_time.hpp"

#include <algorithm>

namespace whirler::drive {

using namespace modbus;

ModbusDrive::ModbusDrive(boost::asio::io_context& context, SerialPort port, const LineFormat& line,
                         ModbusSetup setup, std::unique_ptr<TachLine> tach)
    : context_(context), setup_(std::move(setup)), line_(line), tach_(std::move(tach)),
      master_(context, std::move(port), setup_.port_name, line,
              {setup_.description.reply_within, setup_.description.retries},
              [this](const Fault& fault) { on_lost(fault); }),
      watch_(std::make_unique<Watch>()) {
  if (tach_)
    tach_->listen([this](const PulseBatch& batch) {
      if (listener_ != nullptr)
        listener_->on_pulses(batch);
    });
}

ModbusDrive::~ModbusDrive() {
  if (!started_)
    return;
  const auto& sequence = cut_sequence();
  const auto first = std::find_if(sequence.begin(), sequence.end(), [](const Step& step) {
    return std::holds_alternative<WriteStep>(step);
  });
  if (first != sequence.end()) {
    const auto& step = std::get<WriteStep>(*first);
    master_.shout(write(step));
  }
}

const Sequence& ModbusDrive::cut_sequence() const {
  const auto& drive = setup_.description;
  return drive.cut.empty() ? drive.stop : drive.cut;
}

// ---- questions

Request ModbusDrive::read(const Cell& cell) const {
  return read_request(unit(), cell.function, cell.address, cell.count());
}

Request ModbusDrive::write(const WriteStep& step) const {
  return write(step.cell, {step.value_for(setup_.counterclockwise)});
}

Request ModbusDrive::write(const Cell& cell, std::vector<std::uint16_t> words) const {
  return write_request(unit(), cell.function, cell.address, std::move(words));
}

Result<Request> ModbusDrive::target_write(Speed speed) const {
  const auto& drive = setup_.description;
  const bool negative = turns_by_sign(drive) &&
                        setup_.counterclockwise == drive.direction->negative_is_counterclockwise;
  if (auto words = drive.target.words_for(negative ? -speed : speed))
    return write(drive.target.cell, std::move(*words));
  return Fault{FaultKind::input, "the target's register cannot hold the speed", setup_.port_name,
               "check \"scale_rpm\" and \"type\" of the target in the drive's file"};
}

bool ModbusDrive::serve_until(const std::function<bool()>& done, WallClock::duration patience,
                              const std::function<bool()>& give_up) {
  return drive::serve_until(context_, done, patience, lost_, give_up);
}

ModbusDrive::Answer ModbusDrive::ask_now(const Request& request) {
  const auto answer = std::make_shared<std::optional<Answer>>();
  master_.ask(request, [answer](const Answer& given) { answer->emplace(given); });
  // The master's own time-outs end it; this one is for a question that a stop has pushed aside.
  const auto& drive = setup_.description;
  const Duration most = (2.0 * (drive.retries + 1)) * drive.reply_within + seconds(1);
  const bool starting = phase_ == Phase::starting;
  serve_until([&] { return answer->has_value() || (starting && phase_ == Phase::cutting); },
              wall_time(most));
  if (listener_ != nullptr && phase_ == Phase::starting)
    listener_->on_report(report()); // so that nobody takes a long start for silence
  if (answer->has_value())
    return **answer;
  return lost_
             ? *lost_
             : Fault{FaultKind::ended_early, "stopped before it had started", setup_.port_name, ""};
}

Outcome ModbusDrive::tell_now(const Request& request) {
  const auto answer = ask_now(request);
  if (!answer)
    return answer.fault();
  return Done{};
}

Outcome ModbusDrive::wait_now(const WaitStep& step, const std::string& doing) {
  const auto until = WallClock::now() + wall_time(step.within);
  std::uint16_t word = 0;
  do {
    const auto answer = ask_now(read(step.cell));
    if (!answer)
      return answer.fault();
    word = answer->front();
    if ((word & step.mask) == step.value)
      return Done{};
  } while (WallClock::now() < until);
  const auto masked = static_cast<std::uint16_t>(word & step.mask);
  return Fault{FaultKind::ended_early,
               "while " + doing + ", register " + std::to_string(step.cell.address) + " (" +
                   word_text(step.cell.address) + ") did not become what was waited for: it is " +
                   word_text(word) + ", masked " + word_text(masked) + ", awaited " +
                   word_text(step.value),
               setup_.port_name, "see what the drive's manual says of that state"};
}

Outcome ModbusDrive::run_now(const Sequence& sequence, const std::string& doing) {
  for (const auto& step : sequence) {
    const auto* write_step = std::get_if<WriteStep>(&step);
    auto done = write_step != nullptr ? tell_now(write(*write_step))
                                      : wait_now(std::get<WaitStep>(step), doing);
    if (!done)
      return done;
  }
  return Done{};
}

Result<ModbusReading> ModbusDrive::read_now() {
  const auto& drive = setup_.description;
  const auto speed = ask_now(read(drive.actual.cell));
  if (!speed)
    return speed.fault();
  take_speed(*speed);
  const auto fault = ask_now(read(drive.fault.cell));
  if (!fault)
    return fault.fault();
  reading_.fault_word = fault->front();
  reading_.fault_code.reset();
  if (drive.fault_code && (reading_.fault_word & drive.fault.mask) != 0)
    if (const auto code = ask_now(read(drive.fault_code->cell)))
      reading_.fault_code = code->front();
  if (drive.running) {
    const auto status = ask_now(read(drive.running->cell));
    if (!status)
      return status.fault();
    reading_.running = (status->front() & drive.running->mask) == drive.running->value;
  }
  return reading_;
}

// ---- stops

void ModbusDrive::command_stop() {
  if (phase_ == Phase::starting) // nothing turns yet, and a ramp from nothing is none
    return command_cut();
  if (phase_ != Phase::program)
    return;
  stop_asked_ = true;
  if (!walk_.stopping())
    walk_.stop(std::max(rpm(0), reading_.speed));
  stop_pending_ = true;
  send_pending();
}

void ModbusDrive::command_cut() {
  if (phase_ == Phase::resting)
    return;
  phase_ = Phase::cutting;
  stop_pending_ = true;
  watch_->running_since.reset();
  send_pending();
}

void ModbusDrive::repeat_stop() {
  if (stop_pending_ && master_.idle())
    send_pending();
}

/// The one write that decides, ahead of everything; the rest follows its answer.
void ModbusDrive::send_pending() {
  awaiting_ = false; // the answer begins the next cycle
  const auto acknowledged = [this](std::function<void()> then) {
    return [this, then = std::move(then)](const Answer& answer) {
      if (!answer)
        return send_pending(); // until it is acknowledged
      stop_pending_ = false;
      then();
    };
  };
  if (phase_ == Phase::cutting) {
    last_cut_ = WallClock::now();
    const auto& sequence = cut_sequence();
    const auto& first = std::get<WriteStep>(sequence.front()); // the file's reader sees to it
    return master_.ask_ahead(write(first), acknowledged([this, sequence] {
                               run_writes(sequence, 1, [this] { begin_cycle(); });
                             }));
  }
  walk();
  if (const auto request = target_write(goal()))
    master_.ask_ahead(*request, acknowledged([this] { begin_cycle(); }));
}

Duration ModbusDrive::longest_silence() const {
  const auto& drive = setup_.description;
  const Duration usual = Drive::longest_silence();
  if (!drive.dead_man)
    return usual;
  // A reply that is late is listened for as long again; what comes between takes its own time.
  // A report comes once a cycle.
  const Duration tries =
      2.0 * (1.0 + drive.retries) * drive.reply_within + milliseconds(200.0) + watch_->cycle;
  return std::clamp(tries, usual, usual + drive.dead_man->time);
}

/// The writes of a sequence from `at` on. A stop does not wait for a state that may never come.
void ModbusDrive::run_writes(Sequence sequence, std::size_t at, std::function<void()> then) {
  while (at < sequence.size() && !std::holds_alternative<WriteStep>(sequence[at]))
    ++at;
  if (at >= sequence.size())
    return then();
  const auto step = std::get<WriteStep>(sequence[at]);
  master_.ask(write(step),
              [this, sequence = std::move(sequence), at, then = std::move(then)](const Answer&) {
                run_writes(sequence, at + 1, then); // a write that failed is sent again later
              });
}

/// Not yet at rest half a second after it was told: told again.
void ModbusDrive::send_again() {
  constexpr auto kPause = std::chrono::milliseconds(500);
  const bool told = phase_ == Phase::off || phase_ == Phase::cutting;
  if (!told || stop_pending_ || at_rest() || WallClock::now() - last_cut_ < kPause)
    return;
  last_cut_ = WallClock::now();
  const auto& sequence = phase_ == Phase::off ? setup_.description.stop : cut_sequence();
  run_writes(sequence, 0, [] {});
}

void ModbusDrive::on_lost(const Fault& fault) {
  lost_ = fault;
  if (listener_ != nullptr)
    listener_->on_lost(fault);
}

} // namespace whirler::drive
