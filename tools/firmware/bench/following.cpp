#include "following.hpp"

#include "whirler/report/chart.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace bench {

namespace link = whirler::link;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

whirler::Inertia light_rotor() { return whirler::kg_m2(1.4e-4); }
whirler::Inertia heavy_rotor() { return whirler::kg_m2(7e-4); }

std::vector<link::Segment> long_program() {
  return {{0, rpm(500), rpm_per_s(500), seconds(3.0)},
          {1, rpm(3000), rpm_per_s(1000), seconds(6.0)},
          {2, rpm(1500), rpm_per_s(1000), seconds(3.0)},
          {3, rpm(4000), rpm_per_s(800), seconds(4.0)}};
}

namespace {

/// When a phase began, on the driver's own clock: report time less the time that it has lasted.
double phase_began_ms(const link::Status& status) {
  return static_cast<double>(status.clock_ms) - static_cast<double>(status.phase_ms);
}

struct DwellSpan {
  double from_ms = 0.0;
  double to_ms = 0.0;
};

/// Reports come every 20 ms, but each says when its phase began: so the span is exact to 1 ms.
DwellSpan span_of(const std::vector<HeardStatus>& statuses, std::size_t segment) {
  DwellSpan span;
  bool inside = false;
  for (const auto& [at, status] : statuses) {
    const bool dwells = status.segment == segment && status.phase == link::Phase::dwell;
    if (dwells && !inside)
      span.from_ms = phase_began_ms(status);
    if (!dwells && inside) {
      span.to_ms = phase_began_ms(status);
      break;
    }
    inside = dwells;
  }
  return span;
}

double running_began_ms(const std::vector<HeardStatus>& statuses) {
  for (const auto& [at, status] : statuses)
    if (status.state == link::DriverState::running)
      return phase_began_ms(status);
  return 0.0;
}

/// Speed from which the first ramp began: its first report, less what the slope has done since.
double began_from_rpm(const std::vector<HeardStatus>& statuses, whirler::Ramp slope) {
  for (const auto& [at, status] : statuses)
    if (status.state == link::DriverState::running)
      return status.target.rpm() - slope.rpm_per_s() * 1e-3 * status.phase_ms;
  return 0.0;
}

DwellFigures figures(const DwellSpan& span, const link::Segment& segment, double from_rpm,
                     const std::vector<TracePoint>& trace) {
  DwellFigures made;
  made.target_rpm = segment.target.rpm();
  const double direction = made.target_rpm >= from_rpm ? 1.0 : -1.0;
  double sum = 0.0;
  int count = 0;
  for (const TracePoint& point : trace) {
    const double at_ms = to_ms(point.at);
    if (at_ms < span.from_ms || at_ms >= span.to_ms)
      continue;
    sum += point.rpm;
    ++count;
    const double past = direction * (point.rpm - made.target_rpm) / made.target_rpm * 100.0;
    made.overshoot_percent = std::max(made.overshoot_percent, past);
  }
  made.mean_error_percent =
      count ? (sum / count - made.target_rpm) / made.target_rpm * 100.0 : 100.0;
  made.length_s = 1e-3 * (span.to_ms - span.from_ms);
  made.length_error_ms = span.to_ms - span.from_ms - segment.dwell.ms();
  return made;
}

/// But for those that are still on their way: a batch is sent within 25 ms.
bool all_heard(const Stand& stand) {
  const auto& edges = stand.rig.edges();
  const Cycles settled = stand.now() - ms(45);
  const auto old = std::lower_bound(edges.begin(), edges.end(), settled) - edges.begin();
  return stand.host.losses().pulses == 0 &&
         stand.host.ticks().size() >= static_cast<std::size_t>(old);
}

} // namespace

Following follow(const std::string& rotor, const StandModel& model,
                 const std::vector<link::Segment>& program, whirler::Ramp stop_slope) {
  Stand stand(model);
  stand.greet();
  stand.start(program, stop_slope);
  stand.rig.trace(true);
  stand.finish(ms(120000));
  stand.chip.run_for(ms(60)); // the last pulses on their way
  Following made;
  made.rotor = rotor;
  made.ended = stand.host.last().latch;
  made.trace = stand.rig.traced();
  const auto& statuses = stand.host.statuses();
  for (const auto& [at, status] : statuses)
    made.target.emplace_back(to_s(at), status.target.rpm());
  double from_rpm = began_from_rpm(statuses, program.front().slope);
  double timeline_ms = running_began_ms(statuses);
  for (std::size_t i = 0; i < program.size(); ++i) {
    const DwellSpan span = span_of(statuses, i);
    auto dwell = figures(span, program[i], from_rpm, made.trace);
    timeline_ms += std::abs(dwell.target_rpm - from_rpm) / program[i].slope.rpm_per_s() * 1e3;
    dwell.late_ms = span.from_ms - timeline_ms;
    timeline_ms += program[i].dwell.ms();
    from_rpm = dwell.target_rpm;
    made.dwells.push_back(dwell);
  }
  made.all_pulses_heard = all_heard(stand);
  return made;
}

std::string to_text(const Following& following) {
  std::string text = following.rotor + ", ended: " + link::to_text(following.ended) + "\n";
  for (const DwellFigures& dwell : following.dwells) {
    char line[200];
    std::snprintf(
        line, sizeof line,
        "  %5.0f rpm   mean error %+.3f %%   overshoot %.2f %%   dwell %.3f s, off by %+.1f ms   "
        "begins %+.0f ms\n",
        dwell.target_rpm, dwell.mean_error_percent, dwell.overshoot_percent, dwell.length_s,
        dwell.length_error_ms, dwell.late_ms);
    text += line;
  }
  return text;
}

std::string drawing(const std::vector<Following>& runs) {
  whirler::report::Chart chart;
  chart.title = "True speed of the rotor, and the target";
  chart.x_name = "time, s";
  chart.y_name = "speed, rpm";
  for (const Following& run : runs) {
    whirler::report::Line line;
    const bool first = &run == &runs.front();
    line.name = run.rotor;
    line.look = first ? whirler::report::Look::ink : whirler::report::Look::limit;
    for (const TracePoint& point : run.trace)
      line.points.push_back({to_s(point.at), point.rpm});
    chart.lines.push_back(line);
    whirler::report::Line target;
    target.name = run.rotor + ", target";
    target.look = first ? whirler::report::Look::second : whirler::report::Look::third;
    for (const auto& [at, speed] : run.target)
      target.points.push_back({at, speed});
    chart.lines.push_back(target);
  }
  return whirler::report::draw(chart).file();
}

} // namespace bench
