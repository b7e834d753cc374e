// The faults of the whole chain, and what must come of each.
#include "chain_faults.hpp"

#include <algorithm>
#include <csignal>
#include <initializer_list>

namespace bench {

namespace {

using whirler::link::Latch;
using Cases = std::vector<ChainCase>;
using Inject = std::function<Cycles(Chain&)>;
using Act = std::function<void(Chain&)>;

constexpr double kOneFrame = 52 * 0.02; ///< the longest that a host sends, at 500000 baud
constexpr double kAtOnce = 1.0;
constexpr double kDeadMan = 250.0 + kOneFrame;
constexpr double kWatchdog = 300.0; ///< 250 ms nominal; its oscillator may be a fifth slow
/// The stop ramp from 1500 rpm at 1500 rpm/s, and 0.15 s for the host's system to be quick or slow.
constexpr double kStopRamp = 1150.0;
constexpr double kCoastsSlowly = 5000.0; ///< until the loop asks far more than the speed needs
constexpr double kTopRpm = 1500.0 * 1.02;

StandModel quick() {
  StandModel model;
  model.image = "quick";
  return model;
}

ChainCase make(std::string fault, Moment moment, double bound_ms, Latch latch, std::string outcome,
               Inject inject, Act afterwards = nullptr) {
  ChainCase made;
  made.fault = std::move(fault);
  made.moment = moment;
  made.bound_ms = bound_ms;
  if (latch != Latch::none)
    made.latches = {latch};
  if (!outcome.empty())
    made.outcomes = {std::move(outcome)};
  made.inject = std::move(inject);
  made.afterwards = std::move(afterwards);
  made.model = quick();
  return made;
}

Inject now_after(Act act) {
  return [act = std::move(act)](Chain& chain) {
    act(chain);
    return chain.stand.chip.now();
  };
}

Inject signal(int number) {
  return now_after([number](Chain& chain) { chain.host.signal(number); });
}

/// What the host had already sent still reaches the chip: counted from its last byte.
Inject lost(Act act) {
  return [act = std::move(act)](Chain& chain) {
    act(chain);
    const Cycles began = chain.stand.chip.now();
    chain.run_for(ms(2));
    return std::max(began, chain.stand.last_heard());
  };
}

/// From the first byte of the sequence: how soon a signal is turned into bytes is the host's
/// system's affair, and no claim is made about it.
Cycles second_interrupt(Chain& chain) {
  chain.host.signal(SIGINT);
  chain.run_for(ms(30));
  chain.host.signal(SIGINT);
  const Cycles end = chain.stand.chip.now() + ms(3000);
  while (!chain.stand.cut_began() && chain.stand.chip.now() < end)
    chain.run_for(ms(1));
  return chain.stand.cut_began().value_or(0);
}

void add_lid(Cases& cases) {
  for (const Moment moment : {Moment::arming, Moment::searching, Moment::ramp, Moment::dwell,
                              Moment::second_ramp, Moment::second_dwell, Moment::stopping}) {
    cases.push_back(make("the lid opens, then shuts", moment, kAtOnce, Latch::lid_open, "lid",
                         now_after([](Chain& chain) { chain.stand.rig.lid(true); }),
                         [](Chain& chain) { chain.stand.rig.lid(false); }));
    cases.back().top_rpm = kTopRpm;
  }
}

void add_operator(Cases& cases) {
  const auto at = Moment::second_dwell;
  cases.push_back(make("Ctrl-C", at, kStopRamp, Latch::operator_stop, "operator", signal(SIGINT)));
  cases.push_back(
      make("SIGTERM", at, kStopRamp, Latch::operator_stop, "terminated", signal(SIGTERM)));
  cases.push_back(make("the terminal closes (SIGHUP)", at, kStopRamp, Latch::operator_stop,
                       "terminated", signal(SIGHUP)));
  cases.push_back(
      make("second Ctrl-C", at, kAtOnce, Latch::operator_cut, "operator", second_interrupt));
  cases.push_back(make("second Ctrl-C, one byte in 100 damaged", at, kAtOnce + 20.0,
                       Latch::operator_cut, "operator", second_interrupt));
  cases.back().damage = 1e-2;
}

void add_host(Cases& cases) {
  const auto kill = lost([](Chain& chain) { chain.host.signal(SIGKILL); });
  for (const Moment moment : {Moment::arming, Moment::ramp, Moment::dwell, Moment::stopping})
    cases.push_back(
        make("the host is killed (SIGKILL)", moment, kDeadMan, Latch::link_lost, "", kill));
  cases.push_back(make("the host is suspended, then goes on", Moment::dwell, kDeadMan,
                       Latch::link_lost, "link_lost",
                       lost([](Chain& chain) { chain.host.signal(SIGSTOP); }),
                       [](Chain& chain) { chain.host.signal(SIGCONT); }));
}

void add_cable(Cases& cases) {
  const auto put_back = [](Chain& chain) {
    chain.run_for(ms(900)); // the host gives up first
    chain.stand.line.connect(true);
  };
  for (const Moment moment : {Moment::ramp, Moment::dwell})
    cases.push_back(make("the cable is pulled, then put back", moment, kDeadMan, Latch::link_lost,
                         "link_lost", lost([](Chain& chain) { chain.stand.line.connect(false); }),
                         put_back));
  cases.push_back(make("the adapter is pulled out of the computer", Moment::second_dwell, kDeadMan,
                       Latch::link_lost, "link_lost",
                       lost([](Chain& chain) { chain.stand.vanish(); })));
}

/// A line that is bad from the first byte on. Whatever comes of it, nothing turns too fast and all
/// ends with the motor off.
void add_noise(Cases& cases) {
  for (const double damage : {1e-4, 1e-3, 1e-2}) {
    const int one_in = static_cast<int>(1.0 / damage + 0.5);
    cases.push_back(make("a whole run, one byte in " + std::to_string(one_in) + " damaged",
                         Moment::ready, 0.0, Latch::done, "done", nullptr));
    cases.back().damage = damage;
    cases.back().top_rpm = kTopRpm;
  }
  cases.back().latches = {Latch::done,          Latch::link_lost, Latch::operator_cut,
                          Latch::operator_stop, Latch::new_host,  Latch::power_up};
  cases.back().outcomes = {"done", "link_lost", "refused", "operator", "drive_fault"};
}

void add_tach(Cases& cases) {
  const auto cut = now_after([](Chain& chain) { chain.stand.rig.cut_tach_wire(); });
  const auto thin = now_after([](Chain& chain) { chain.stand.rig.see_every(2); });
  for (const Moment moment : {Moment::dwell, Moment::second_ramp}) {
    cases.push_back(
        make("the tach wire is cut", moment, kDeadMan, Latch::tach_lost, "tach_lost", cut));
    cases.push_back(make("every second pulse is lost", moment, kDeadMan, Latch::tach_implausible,
                         "tach_implausible", thin));
  }
  const auto jam = now_after([](Chain& chain) {
    chain.stand.rig.jam(true);
    while (chain.stand.rig.rpm() > 5.0 && chain.enabled())
      chain.run_for(ms(0.25));
  });
  cases.push_back(make("the rotor is jammed (from its last mark)", Moment::second_dwell, kDeadMan,
                       Latch::stall, "stall", jam,
                       [](Chain& chain) { chain.stand.rig.jam(false); }));
  // A rotor that stops within a mark or two may be named either way: the protocol says so.
  cases.back().latches.push_back(Latch::tach_lost);
  cases.back().outcomes.emplace_back("tach_lost");
}

void add_start(Cases& cases) {
  const auto first_turn = now_after([](Chain& chain) { // before that nobody can know
    const int before = chain.stand.rig.index_passes();
    while (chain.stand.rig.index_passes() < before + 2 && chain.enabled())
      chain.run_for(ms(0.25));
  });
  cases.push_back(make("five marks, not six (from the first whole turn)", Moment::searching,
                       kDeadMan, Latch::tach_implausible, "tach_implausible", first_turn));
  cases.back().model.marks = 5;
  const auto dead = [](Chain& chain) {
    chain.stand.rig.cut_tach_wire();
    chain.reach(Moment::searching);
    return chain.stand.chip.now();
  };
  cases.push_back(make("the tach is dead at the start", Moment::arming, 1000.0 + kOneFrame,
                       Latch::tach_lost, "tach_lost", dead));
}

void add_supply(Cases& cases) {
  const auto press = now_after([](Chain& chain) { chain.stand.rig.emergency_stop(true); });
  const auto release = [](Chain& chain) {
    chain.run_for(ms(300));
    chain.stand.rig.emergency_stop(false);
  };
  for (const Moment moment : {Moment::arming, Moment::second_ramp, Moment::second_dwell})
    cases.push_back(make("emergency stop, told by a wire; then released", moment, 5.0,
                         Latch::motor_fault, "drive_fault", press, release));
  cases.push_back(make("emergency stop, not told; then released", Moment::dwell, kCoastsSlowly,
                       Latch::tach_implausible, "tach_implausible", press, release));
  ChainCase& bare = cases.back();
  bare.model.image = "bare_quick";
  bare.model.index = bare.model.supply_wire = bare.files.index = false;
  bare.files.lid = "none";
  bare.files.profile = R"({"kind":"profile","format":1,"name":"long","steps":[
    {"speed_rpm":1500,"ramp_rpm_s":1500,"dwell_s":9}],"stop":{"ramp_rpm_s":1500}})";
}

/// Held in reset for 5 ms; the host, and the line, know nothing of it.
Cycles dip(Chain& chain) {
  const Cycles began = chain.stand.chip.now();
  chain.stand.chip.hold_in_reset();
  return began;
}

void add_chip(Cases& cases) {
  const auto reset_ends = [](Chain& chain) {
    chain.run_for(ms(5));
    chain.stand.chip.release(ResetCause::brown_out);
  };
  for (const Moment moment : {Moment::ramp, Moment::second_dwell})
    cases.push_back(make("the supply dips and resets the chip", moment, kAtOnce,
                         Latch::brown_out_reset, "link_lost", dip, reset_ends));
  for (const bool all : {false, true})
    cases.push_back(make(all ? "all of the program hangs" : "the main program hangs",
                         Moment::second_dwell, kWatchdog, Latch::watchdog_reset, "link_lost",
                         now_after([all](Chain& chain) { chain.stand.chip.hang(all); })));
  cases.push_back(make("it hangs, and the boot loader resets for ever", Moment::dwell, kWatchdog,
                       Latch::none, "link_lost", now_after([](Chain& chain) {
                         chain.stand.chip.load_boot_loader(std::string(FIRMWARE_IMAGES) +
                                                           "/boot_loader.elf");
                         chain.stand.chip.hang(true);
                       })));
}

} // namespace

std::vector<ChainCase> chain_cases() {
  Cases cases;
  add_supply(cases); // the longest waits first
  add_tach(cases);
  add_noise(cases);
  add_start(cases);
  add_lid(cases);
  add_operator(cases);
  add_host(cases);
  add_cable(cases);
  add_chip(cases);
  return cases;
}

} // namespace bench
