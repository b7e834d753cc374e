// How a Modbus drive is greeted, set up, started, and its dead-man proven.
#include <utility> // ahead of Asio, see serial_port.cpp

#include "link_words.hpp"
#include "modbus_watch.hpp"
#include "wall_time.hpp"
#include "whirler/modbus/cycle_time.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <limits>

namespace whirler::drive {

using namespace modbus;

namespace {

constexpr int kSegmentsMost = 255;  // the walk counts them in a byte
constexpr double kSlopeSlack = 0.1; // a drive's slope comes in counts: so much off is still it

Fault not_answered(const std::string& what, const std::string& where) {
  return {FaultKind::link, what, where, "check the cable and the board's supply"};
}

std::vector<std::string> cautions_of(const Description& drive, bool has_tach) {
  std::vector<std::string> cautions;
  if (drive.cut.empty())
    cautions.emplace_back("This drive has nothing harder than its own stop: a cut waits for its "
                          "ramp.");
  if (drive.actual_from == SpeedSource::estimate)
    cautions.emplace_back("The drive guesses its speed: after a cut only your eyes tell that "
                          "nothing turns.");
  if (!has_tach)
    cautions.emplace_back("No tach: whether the plate shakes cannot be told.");
  cautions.emplace_back("The drive's manual says what its stop input (STO) does, and people "
                        "licensed for it wire it.");
  return cautions;
}

} // namespace

std::optional<Fault> ModbusDrive::greet_tach(Duration patience,
                                             const std::function<bool()>& give_up) {
  const auto until = WallClock::now() + wall_time(patience);
  const auto ready = [this] { return tach_->ready(); };
  while (!ready() && WallClock::now() < until && !(give_up && give_up())) {
    tach_->say_hello();
    serve_until(ready, wall_time(link::kAnswerTimeout), give_up);
  }
  if (!ready())
    return not_answered("the tach's board said nothing for " + number_text(patience.s()) + " s",
                        tach_->port_name());
  return tach_->refusal();
}

Result<Identity> ModbusDrive::greet(Listener& listener, Duration patience,
                                    const std::function<bool()>& give_up) {
  listener_ = &listener;
  const auto until = WallClock::now() + wall_time(patience);
  auto seen = read_now();
  while (!seen && seen.fault().kind == FaultKind::link && !lost_ && WallClock::now() < until &&
         !(give_up && give_up()))
    seen = read_now();
  if (!seen)
    return seen.fault();
  if (master_.counts().echoed > 0)
    return Fault{FaultKind::link, "the adapter hears what it sends", setup_.port_name,
                 "switch its echo off: else a dead drive seems to repeat what it was told"};
  if (auto timed = time_cycle(); !timed)
    return timed.fault();
  if (tach_)
    if (auto fault = greet_tach(patience, give_up))
      return *fault;
  return identity();
}

/// The quickest of a few: what this computer's own haste adds is no property of the drive.
Outcome ModbusDrive::time_cycle() {
  constexpr int kTries = 4;
  const auto& drive = setup_.description;
  Duration quickest = seconds(1e3);
  for (int i = 0; i < kTries; ++i) {
    const auto began = WallClock::now();
    if (const auto seen = read_now(); !seen)
      return seen.fault();
    quickest = std::min(quickest, since(began));
  }
  const Duration answers = std::max(Duration{}, quickest - line_time_of_reads(drive, line_)) *
                           (static_cast<double>(questions_a_cycle(drive)) / reads_a_cycle(drive));
  watch_->cycle = line_time_of_cycle(drive, line_) + answers;
  const auto long_one = long_cycle(drive, line_, answers);
  if (long_one && long_one->too_long)
    return input_fault(long_one->what, setup_.port_name, long_one->next);
  if (long_one)
    watch_->caution = "Here " + long_one->what + ": " + long_one->next + ".";
  return Done{};
}

Identity ModbusDrive::identity() const {
  const auto& drive = setup_.description;
  Identity identity;
  auto& facts = identity.facts;
  facts.name = drive.name;
  facts.speed_max = highest_speed(drive);
  facts.speed_min = drive.limits.speed_min.value_or(rpm(0));
  facts.slope_max = drive.limits.ramp.value_or(rad_per_s2(std::numeric_limits<double>::infinity()));
  facts.segments_max = kSegmentsMost;
  facts.enable_output = !drive.cut.empty();
  facts.lid = run::LidState::not_fitted;
  identity.version = "(Modbus unit " + std::to_string(setup_.unit) + ")";
  identity.tick = microseconds(1);
  identity.tick_bits = 62;
  identity.own_clock = false;
  if (tach_) {
    const auto counted = identity_from(tach_->greeting(), tach_->status());
    identity.tick = counted.tick;
    identity.tick_bits = counted.tick_bits;
    identity.still_after = counted.still_after;
    facts.marks_per_turn = counted.facts.marks_per_turn;
    facts.index = counted.facts.index;
    facts.lid_switch = counted.facts.lid_switch;
    facts.lid = counted.facts.lid;
  }
  identity.cautions = cautions_of(drive, tach_ != nullptr);
  if (!watch_->caution.empty())
    identity.cautions.push_back(watch_->caution);
  return identity;
}

/// Written, and read back: a drive that quietly keeps its own time has no dead-man that we know.
Outcome ModbusDrive::set_dead_man() {
  const auto& dead_man = setup_.description.dead_man;
  if (!dead_man || !dead_man->set_by)
    return Done{};
  Cell cell = dead_man->set_by->cell;
  const auto words = dead_man->set_by->words_for(dead_man->time);
  if (auto told = tell_now(write(cell, *words)); !told)
    return told;
  cell.function = Function::read_holding;
  const auto kept = ask_now(read(cell));
  if (!kept)
    return kept.fault();
  if (*kept == *words)
    return Done{};
  return input_fault("the drive's time-out was set to " + number_text(dead_man->time.ms(), 4) +
                         " ms and reads back as " +
                         number_text(dead_man->set_by->value_of(*kept).ms(), 4) + " ms",
                     setup_.port_name, "check \"dead_man\" in the drive's file");
}

Outcome ModbusDrive::clear_faults() {
  const auto& drive = setup_.description;
  auto seen = read_now();
  if (!seen)
    return seen.fault();
  if ((seen->fault_word & drive.fault.mask) != 0) {
    if (auto cleared = run_now(drive.clear, "clearing a fault");
        !cleared && cleared.fault().kind == FaultKind::link)
      return cleared;
    seen = read_now();
    if (!seen)
      return seen.fault();
  }
  if ((seen->fault_word & drive.fault.mask) != 0)
    return Fault{FaultKind::ended_early, fault_text(drive, seen->fault_word, seen->fault_code),
                 setup_.port_name, "mend its cause, reset the drive, and start again"};
  if (!at_rest() && seen->speed > rest_speed())
    return Fault{FaultKind::ended_early,
                 "the shaft turns at " + number_text(seen->speed.rpm(), 4) + " rpm",
                 setup_.port_name, "wait until nothing turns, then start again"};
  return Done{};
}

/// One register for both ways holds the climb until the program brakes.
Outcome ModbusDrive::set_slopes(Ramp up, Ramp down) {
  for (const auto& request : slope_writes(up, down, true))
    if (auto told = tell_now(request); !told)
      return told;
  return Done{};
}

/// A slope that the register's counts turn into quite another one.
Outcome ModbusDrive::refuse_slopes(const Program& program) const {
  const auto& drive = setup_.description;
  if (!drive.slope)
    return Done{};
  std::vector<Ramp> slopes{program.stop_slope};
  for (const auto& segment : program.segments)
    slopes.push_back(segment.slope);
  for (const Ramp slope : slopes) {
    const auto held = drive.slope->rounded(slope);
    if (!held || std::abs(*held / slope - 1.0) > kSlopeSlack)
      return input_fault(
          "the drive's slope comes in counts: " + number_text(slope.rpm_per_s(), 5) +
              " rpm/s asked for, " +
              (held ? number_text(held->rpm_per_s(), 5) + " rpm/s is the nearest" : "it has none"),
          setup_.port_name, "choose a ramp that it has");
  }
  return Done{};
}

/// Everything before the motor is let go: parameters, faults, direction, a target of zero.
Outcome ModbusDrive::prepare(Ramp slope) {
  const auto& drive = setup_.description;
  if (auto set = run_now(drive.setup, "setting up"); !set)
    return set;
  if (auto set = set_dead_man(); !set)
    return set;
  if (auto cleared = clear_faults(); !cleared)
    return cleared;
  const auto zero = target_write(rpm(0));
  if (!zero)
    return zero.fault();
  if (auto told = tell_now(*zero); !told)
    return told;
  if (drive.direction && drive.direction->cell) {
    const auto way =
        setup_.counterclockwise ? drive.direction->counterclockwise : drive.direction->clockwise;
    if (auto told = tell_now(write(*drive.direction->cell, {way})); !told)
      return told;
  }
  return set_slopes(slope, stop_slope_);
}

Outcome ModbusDrive::begin_turning() {
  started_ = true; // from here on every way out commands the motor off
  rest_seen_ = 0;
  rest_under_power_ = false;
  auto begun = run_now(setup_.description.start, "starting");
  if (!begun)
    command_cut();
  return begun;
}

Outcome ModbusDrive::start_program(const Program& program) {
  phase_ = Phase::starting;
  stop_slope_ = program.stop_slope;
  ceiling_ = program.ceiling;
  segments_.clear();
  for (const auto& segment : program.segments)
    segments_.push_back({static_cast<std::uint8_t>(segments_.size()), segment.target, segment.slope,
                         segment.dwell});
  auto ready = refuse_slopes(program);
  if (ready)
    ready = prepare(segments_.front().slope);
  if (!ready) {
    phase_ = phase_ == Phase::cutting ? phase_ : Phase::resting;
    return ready;
  }
  if (auto begun = begin_turning(); !begun)
    return begun;
  if (phase_ != Phase::starting) // a stop came meanwhile
    return Done{};
  walk_ = plant::ProgramWalk(segments_, stop_slope_, rpm(0));
  walked_ = WallClock::now();
  phase_ = Phase::program;
  master_.forget_unspoken(); // a start takes the time that its states take
  begin_cycle();
  return Done{};
}

Result<std::unique_ptr<ModbusDrive>> open_modbus(boost::asio::io_context& context,
                                                 const ModbusPlace& place, std::uint32_t fresh) {
  std::unique_ptr<TachLine> tach;
  if (!place.tach_port.empty()) {
    auto port = SerialPort::open(context, place.tach_port, place.tach_baud);
    if (!port)
      return port.fault();
    tach = std::make_unique<TachLine>(std::move(*port), place.tach_port, fresh);
  }
  auto port = SerialPort::open(context, place.setup.port_name, place.line);
  if (!port)
    return port.fault();
  return std::make_unique<ModbusDrive>(context, std::move(*port), place.line, place.setup,
                                       std::move(tach));
}

} // namespace whirler::drive
