#include "stand.hpp"

#include "whirler/plant/mark_sensor.hpp"

#include <algorithm>
#include <stdexcept>

namespace bench {

namespace link = whirler::link;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

bool shows(Moment moment, const link::Status& status) {
  using State = link::DriverState;
  const bool running = status.state == State::running;
  const bool ramp = status.phase == link::Phase::ramp;
  switch (moment) {
  case Moment::ready:
    return status.state == State::ready;
  case Moment::arming:
    return status.state == State::starting;
  case Moment::searching:
    return status.state == State::starting && status.command_permille > 0;
  case Moment::ramp:
    return running && status.segment == 0 && ramp;
  case Moment::dwell:
    return running && status.phase == link::Phase::dwell;
  case Moment::second_ramp:
    return running && status.segment == 1 && ramp;
  case Moment::second_dwell:
    return running && status.segment == 1 && !ramp;
  case Moment::stopping:
    return status.state == State::stopping;
  }
  return false;
}

RigModel rig_model(const StandModel& model) {
  auto machine = whirler::plant::plain_machine();
  machine.tach.marks_per_turn = model.marks;
  machine.tach.index = model.index;
  whirler::plant::Unknowns unknowns;
  unknowns.seed = model.seed;
  unknowns.pitch_rms = whirler::milliradians(std::min(5.0, 60.0 / model.marks));
  const auto setup = whirler::plant::make_setup(machine, std::nullopt, unknowns);
  if (!setup)
    throw std::runtime_error(whirler::to_text(setup.fault()));
  RigModel made;
  made.setup = *setup;
  made.setup.spinner.inertia = model.inertia;
  made.setup.spinner.unbalance = model.unbalance;
  made.setup.spinner.drag.air_radius = whirler::millimetres(60.0);
  made.stage = model.stage;
  made.wide_index = model.wide_index;
  made.supply_wire = model.supply_wire;
  return made;
}

std::string name(Moment moment) {
  static const char* const kNames[] = {"ready", "arming",      "searching",    "ramp",
                                       "dwell", "second ramp", "second dwell", "stopping"};
  return kNames[static_cast<int>(moment)];
}

std::vector<link::Segment> short_program() {
  return {{0, rpm(800), rpm_per_s(1000), seconds(1.5)},
          {1, rpm(2400), rpm_per_s(1500), seconds(2.0)}};
}

Stand::Stand(const StandModel& model)
    : chip(std::string(FIRMWARE_IMAGES) + "/" + model.image + "/whirler.elf"),
      rig(chip, rig_model(model)), line(chip, model.seed), host(chip, line), model_(model) {}

void Stand::greet() {
  if (!host.greet())
    throw std::runtime_error("the firmware does not answer HELLO");
  if (!host.run_until([](const link::Status& status) { return status.still; }, ms(70000)))
    throw std::runtime_error("the firmware never sees standstill");
}

void Stand::start(const std::vector<link::Segment>& segments, whirler::Ramp stop_slope) {
  link::Start start;
  start.stop_slope = stop_slope;
  start.ceiling = rpm(6000);
  start.lid_confirmed = true;
  start.token = static_cast<std::uint32_t>(model_.seed) + 1000;
  const auto answer = host.start(segments, start);
  if (!answer)
    throw std::runtime_error("the firmware does not answer START");
  if (const auto* nak = std::get_if<link::Nak>(&*answer))
    throw std::runtime_error("the firmware refuses START: " + link::to_text(*nak));
}

void Stand::reach(Moment moment, Cycles later) {
  greet();
  if (moment == Moment::ready)
    host.command(link::Clear{});
  else
    start(short_program(), rpm_per_s(1000));
  if (!host.run_until([moment](const link::Status& status) { return shows(moment, status); },
                      ms(20000)))
    throw std::runtime_error("the firmware never gets to " + name(moment) + "; it says " +
                             link::to_text(host.last().latch));
  chip.run_for(later);
}

bool Stand::finish(Cycles patience) {
  return host.run_until(
      [](const link::Status& status) { return status.state == link::DriverState::latched; },
      patience);
}

} // namespace bench
