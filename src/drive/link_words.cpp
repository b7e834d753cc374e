#include "link_words.hpp"

namespace whirler::drive {
namespace {

run::LidState lid_from(link::LidState lid) {
  switch (lid) {
  case link::LidState::closed:
    return run::LidState::closed;
  case link::LidState::open:
    return run::LidState::open;
  case link::LidState::no_switch:
    return run::LidState::not_fitted;
  }
  return run::LidState::open; // a value of a later version: the careful reading
}

/// A cause that the run has to hear of. What the run itself commanded, and the program's own end,
/// are no news.
std::optional<run::Event> event_from(link::Latch latch) {
  switch (latch) {
  case link::Latch::none:
  case link::Latch::done:
  case link::Latch::operator_stop:
  case link::Latch::operator_cut:
    return std::nullopt;
  case link::Latch::lid_open:
    return run::Event::lid_open;
  case link::Latch::link_lost:
    return run::Event::link_lost;
  case link::Latch::overspeed:
    return run::Event::overspeed;
  case link::Latch::stall:
    return run::Event::stall;
  case link::Latch::tach_lost:
    return run::Event::tach_lost;
  case link::Latch::tach_implausible:
    return run::Event::tach_implausible;
  default:
    return run::Event::drive_fault;
  }
}

Motion motion_from(const link::Status& status) {
  switch (status.state) {
  case link::DriverState::starting:
    return Motion::starting;
  case link::DriverState::running:
    return status.phase == link::Phase::dwell ? Motion::dwelling : Motion::ramping;
  case link::DriverState::stopping:
    return Motion::stopping;
  case link::DriverState::latched:
  case link::DriverState::ready:
    break;
  }
  return Motion::off;
}

} // namespace

Identity identity_from(const link::HelloReply& reply, const link::Status& status) {
  Identity identity;
  identity.facts = {reply.name,          reply.max_speed,      reply.min_speed, reply.max_slope,
                    reply.max_segments,  reply.marks_per_turn, reply.index,     reply.lid_switch,
                    reply.enable_output, lid_from(status.lid)};
  identity.version = std::to_string(reply.firmware_major) + "." +
                     std::to_string(reply.firmware_minor) + "." +
                     std::to_string(reply.firmware_patch);
  identity.tick = reply.tick();
  identity.tick_bits = reply.tick_bits;
  identity.still_after = reply.still_after;
  if (!reply.enable_output)
    identity.cautions.emplace_back(
        "This driver has no enable output: a stop sets the motor's command to zero, and the "
        "motor's supply stays on.");
  return identity;
}

Report report_from(const link::Status& status, Duration clock, bool ours) {
  Report report;
  report.motion = motion_from(status);
  report.lid = lid_from(status.lid);
  report.enabled = status.enabled;
  report.still = status.still;
  report.ours = ours;
  report.ended = ours && status.latch == link::Latch::done;
  if (ours || status.state == link::DriverState::latched) {
    report.cause = event_from(status.latch);
    if (report.cause)
      report.cause_text = link::to_text(status.latch);
  }
  if (status.segment)
    report.segment = *status.segment;
  report.target = status.target;
  report.measured = status.measured;
  report.command = status.command_permille / 1000.0;
  report.clock = clock;
  report.frames_discarded = status.frames_discarded;
  report.pulses_dropped = status.pulses_dropped;
  return report;
}

bool obeys(const link::Status& status, link::StopKind kind) {
  const bool off =
      status.state == link::DriverState::latched || status.state == link::DriverState::ready;
  return off || (kind == link::StopKind::stop && status.state == link::DriverState::stopping);
}

} // namespace whirler::drive
