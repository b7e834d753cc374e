#include "fault_table.hpp"

#include <algorithm>
#include <cstdio>

namespace bench {

namespace link = whirler::link;
using link::Latch;

namespace {

// What the protocol promises, in ms. One frame is the longest that a host sends, stuffed to the
// utmost.
constexpr double kOneFrame = 52 * 0.02;
constexpr double kAtOnce = 1.0;
constexpr double kDeadMan = 250.0 + kOneFrame;
constexpr double kStaleReports = 12 * 20.0 + 20.0;
constexpr double kWatchdog = 300.0; ///< 250 ms nominal; its oscillator may be a fifth slow
constexpr double kNoMarkAtStart = 1000.0 + kOneFrame;

const std::vector<Moment> kMoving{Moment::arming, Moment::searching,   Moment::ramp,
                                  Moment::dwell,  Moment::second_ramp, Moment::stopping};
const std::vector<Moment> kTurning{Moment::ramp, Moment::dwell, Moment::second_ramp,
                                   Moment::stopping};
const std::vector<Moment> kDriven{Moment::ramp, Moment::dwell, Moment::second_ramp};

StandModel plain() { return {}; }
StandModel without_wires() {
  StandModel model;
  model.image = "bare";
  model.index = false;
  model.supply_wire = false;
  return model;
}

void do_nothing(Stand&) {}

void repeat_cut(Stand& stand, int times) {
  stand.host.send_stop(link::StopKind::cut);
  if (times > 1)
    stand.chip.at(stand.now() + ms(20), [&stand, times] { repeat_cut(stand, times - 1); });
}

std::function<void(Stand&)> cut_in_noise(double probability) {
  return [probability](Stand& stand) {
    stand.line.damage(probability);
    stand.chip.run_for(ms(100));
    stand.chip.run_until(std::max(stand.now(), stand.line.idle_from()));
    repeat_cut(stand, 10);
  };
}

std::vector<FaultCase> lid_cases() {
  std::vector<Moment> moments = kMoving;
  moments.push_back(Moment::ready);
  return {{"lid", "the lid opens", moments, plain(), kAtOnce, Latch::lid_open,
           [](Stand& stand) { stand.rig.lid(true); }, [](Stand& stand) { stand.rig.lid(false); }}};
}

std::vector<FaultCase> stop_cases() {
  return {{"stop", "the cut sequence comes", kMoving, plain(), kAtOnce, Latch::operator_cut,
           [](Stand& stand) { stand.host.send_stop(link::StopKind::cut); }, do_nothing},
          {"stop",
           "cut, one byte in 10 000 damaged",
           {Moment::dwell},
           plain(),
           kAtOnce + 20,
           Latch::operator_cut,
           cut_in_noise(1e-4),
           do_nothing},
          {"stop",
           "cut, one byte in 1000 damaged",
           {Moment::dwell},
           plain(),
           kAtOnce + 20,
           Latch::operator_cut,
           cut_in_noise(1e-3),
           do_nothing},
          {"stop",
           "cut, one byte in 100 damaged",
           {Moment::dwell},
           plain(),
           kAtOnce + 20,
           Latch::operator_cut,
           cut_in_noise(1e-2),
           do_nothing}};
}

void new_host(Stand& stand) {
  const auto hello = link::encode(link::Hello{1, 1, 99}, 0);
  stand.chip.run_until(std::max(stand.now(), stand.line.idle_from()));
  stand.host.send_raw(hello);
}

std::vector<FaultCase> link_cases() {
  return {{"link", "the host is killed", kMoving, plain(), kDeadMan, Latch::link_lost,
           [](Stand& stand) { stand.host.keep_alive(false); }, do_nothing},
          {"link", "the cable is pulled", kTurning, plain(), kDeadMan, Latch::link_lost,
           [](Stand& stand) { stand.line.connect(false); },
           [](Stand& stand) { stand.line.connect(true); }},
          {"link", "the host's loop hangs, a timer keeps sending", kDriven, plain(),
           kDeadMan + kStaleReports, Latch::link_lost,
           [](Stand& stand) { stand.host.freeze(true); },
           [](Stand& stand) { stand.host.freeze(false); }},
          {"link", "a second host says hello", kDriven, plain(), 5.0, Latch::new_host, new_host,
           do_nothing}};
}

/// Waits for a whole turn from index to index: before that nobody can know.
void first_turn(Stand& stand) {
  const int before = stand.rig.index_passes();
  while (stand.rig.index_passes() < before + 2 && stand.chip.output(kEnablePin))
    stand.chip.run_for(ms(0.25));
}

StandModel five_marks() {
  StandModel model;
  model.marks = 5;
  return model;
}

void dead_at_start(Stand& stand) {
  stand.rig.cut_tach_wire();
  stand.host.run_until([](const link::Status& status) { return status.command_permille > 0; },
                       ms(5000));
}

void jam(Stand& stand) {
  stand.rig.jam(true);
  while (stand.rig.rpm() > 5.0 && stand.chip.output(kEnablePin))
    stand.chip.run_for(ms(0.25));
}

void bring_to_a_stop(Stand& stand) {
  stand.rig.load(whirler::millinewton_metres(200.0));
  while (stand.rig.rpm() > 5.0 && stand.chip.output(kEnablePin))
    stand.chip.run_for(ms(0.25));
}

void run_away(Stand& stand) {
  stand.rig.stick_full(true);
  while (stand.rig.rpm() < 6650.0 && stand.chip.output(kEnablePin))
    stand.chip.run_for(ms(0.25));
}

std::vector<FaultCase> tach_cases() {
  return {{"tach", "the tach wire is cut", kTurning, plain(), kDeadMan, Latch::tach_lost,
           [](Stand& stand) { stand.rig.cut_tach_wire(); }, do_nothing},
          {"tach", "the rotor is jammed (from its last mark)", kDriven, plain(), kDeadMan,
           Latch::stall, jam, [](Stand& stand) { stand.rig.jam(false); }},
          {"tach",
           "a load brings the rotor to a stop",
           {Moment::second_dwell},
           plain(),
           kDeadMan,
           Latch::stall,
           bring_to_a_stop,
           [](Stand& stand) { stand.rig.load({}); }},
          {"tach", "every second pulse is lost", kDriven, plain(), kDeadMan,
           Latch::tach_implausible, [](Stand& stand) { stand.rig.see_every(2); }, do_nothing},
          {"tach",
           "five marks, not six (from the first whole turn)",
           {Moment::searching},
           five_marks(),
           kDeadMan,
           Latch::tach_implausible,
           first_turn,
           do_nothing},
          {"tach",
           "the tach is dead at the start",
           {Moment::arming},
           plain(),
           kNoMarkAtStart,
           Latch::tach_lost,
           dead_at_start,
           do_nothing},
          {"tach",
           "the motor stage sticks at full (from 6650 rpm)",
           {Moment::dwell},
           plain(),
           10.0,
           Latch::overspeed,
           run_away,
           do_nothing}};
}

void dip(Stand& stand) {
  stand.chip.hold_in_reset();
  stand.chip.at(stand.now() + ms(5), [] {});
}

std::vector<FaultCase> power_cases() {
  const auto press = [](Stand& stand) { stand.rig.emergency_stop(true); };
  const auto release = [](Stand& stand) { stand.rig.emergency_stop(false); };
  const auto reset_ends = [](Stand& stand) { stand.chip.release(ResetCause::brown_out); };
  const auto loop = [](Stand& stand) {
    stand.chip.load_boot_loader(std::string(FIRMWARE_IMAGES) + "/boot_loader.elf");
    stand.chip.hang(true);
  };
  return {{"power", "emergency stop, told by a wire", kMoving, plain(), 5.0, Latch::motor_fault,
           press, release},
          {"power", "the supply dips and resets the chip", kMoving, plain(), kAtOnce,
           Latch::brown_out_reset, dip, reset_ends},
          {"power", "the main program hangs", kMoving, plain(), kWatchdog, Latch::watchdog_reset,
           [](Stand& stand) { stand.chip.hang(false); }, do_nothing},
          {"power", "all of the program hangs", kMoving, plain(), kWatchdog, Latch::watchdog_reset,
           [](Stand& stand) { stand.chip.hang(true); }, do_nothing},
          {"power",
           "it hangs, and the boot loader resets for ever",
           {Moment::dwell},
           plain(),
           kWatchdog,
           Latch::none,
           loop,
           do_nothing}};
}

/// Pressed, and not released before the motor is off: how long the loop takes to notice.
std::vector<FaultCase> slow_cases() {
  return {{"slow",
           "emergency stop, not told",
           {Moment::dwell},
           without_wires(),
           5000.0,
           Latch::tach_implausible,
           [](Stand& stand) { stand.rig.emergency_stop(true); },
           [](Stand& stand) { stand.rig.emergency_stop(false); }}};
}

} // namespace

std::vector<std::string> fault_groups() { return {"lid", "stop", "link", "tach", "power", "slow"}; }

std::vector<FaultCase> fault_cases(const std::string& group) {
  if (group == "lid")
    return lid_cases();
  if (group == "stop")
    return stop_cases();
  if (group == "link")
    return link_cases();
  if (group == "tach")
    return tach_cases();
  if (group == "power")
    return power_cases();
  return slow_cases();
}

namespace {

/// From the fault to the enable's low, in ms; 0 where it was low already, negative where it stays
/// on.
double time_to_off(Stand& stand, Cycles fault) {
  const Cycles patience = fault + ms(6000);
  stand.chip.run_for(ms(5)); // time to latch even where nothing is on
  while (stand.chip.output(kEnablePin) && stand.now() < patience)
    stand.chip.run_for(ms(1));
  if (stand.chip.output(kEnablePin))
    return -1.0;
  const auto off = stand.rig.disabled_at();
  return off && *off > fault ? to_ms(*off - fault) : 0.0;
}

/// Reports go on after a cut, but not after a reset: then the driver has to be greeted first.
Latch latch_named(Stand& stand) {
  stand.line.damage(0.0);
  stand.host.keep_alive(false);
  if (stand.chip.resets() > 1 && !stand.host.greet())
    return Latch::none;
  stand.chip.run_for(ms(50));
  return stand.host.last().latch;
}

} // namespace

/// A rotor that stops within a mark or two may be named either way: the protocol says so.
bool names(Latch named, Latch expected) {
  return named == expected || (expected == Latch::stall && named == Latch::tach_lost);
}

FaultOutcome measure(const FaultCase& fault, Moment moment, int runs) {
  FaultOutcome outcome{fault.fault, moment, fault.bound_ms, 0.0, fault.latch, Latch::none, true};
  for (int run = 0; run < runs; ++run) {
    StandModel model = fault.model;
    model.seed = static_cast<std::uint64_t>(run) + 1;
    Stand stand(model);
    stand.reach(moment, ms(3.0 + 37.3 * run));
    fault.inject(stand);
    const double off = time_to_off(stand, stand.now());
    outcome.worst_ms = off < 0.0 || outcome.worst_ms < 0.0 ? -1.0 : std::max(outcome.worst_ms, off);
    const auto starts = stand.rig.enabled_count();
    fault.afterwards(stand);
    stand.chip.run_for(ms(500));
    outcome.named = fault.latch == Latch::none ? Latch::none : latch_named(stand);
    outcome.stayed_off &= !stand.chip.output(kEnablePin) && stand.rig.enabled_count() == starts;
    if (!names(outcome.named, fault.latch))
      break;
  }
  return outcome;
}

std::string to_text(const FaultOutcome& outcome) {
  char line[200];
  std::snprintf(line, sizeof line, "%-50s %-12s %9.3f ms (at most %.1f)  %s%s",
                outcome.fault.c_str(), name(outcome.moment).c_str(), outcome.worst_ms,
                outcome.bound_ms, link::to_text(outcome.named).c_str(),
                outcome.stayed_off ? "" : "  CAME ON AGAIN");
  return line;
}

} // namespace bench
