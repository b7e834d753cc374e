// A program run on the simulated spinner, its pulses as a host on the line receives them.
#pragma once

#include "plant/scripted_host.hpp"
#include "whirler/tach/pulses.hpp"

#include <vector>

namespace plant_run {

inline whirler::tach::PulseTrain pulses_of(const whirler::plant::Setup& setup,
                                           std::vector<whirler::link::Segment> segments,
                                           whirler::Ramp stop_slope) {
  using namespace whirler;
  plant::ScriptedHost host(setup);
  plant::Program program;
  Duration most = seconds(60);
  for (const auto& segment : segments)
    most += segment.dwell;
  program.segments = std::move(segments);
  program.stop_slope = stop_slope;
  tach::PulseTrain out;
  out.tick = microseconds(0.5);
  host.wait(setup.boots_in);
  if (!host.begin(program))
    return out;
  host.wait_until([&] { return !host.turning(); }, most);
  host.wait(milliseconds(100));
  link::PulseUnwrapper unwrapper(*host.hello);
  for (const auto& batch : host.batches) {
    const auto more = unwrapper.add(batch);
    out.ticks.insert(out.ticks.end(), more.ticks.begin(), more.ticks.end());
    out.marks.insert(out.marks.end(), more.marks.begin(), more.marks.end());
  }
  return out;
}

} // namespace plant_run
