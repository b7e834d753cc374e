// What the chip's pins and ticks do, to the cycle where the emulator is good for it.
#include "catch.hpp"

#include "figures.hpp"
#include "sizes.hpp"
#include "stand.hpp"

#include <algorithm>
#include <set>

namespace {

using namespace bench;
namespace link = whirler::link;
using link::DriverState;
using link::Latch;
using whirler::milliseconds;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

constexpr double kCyclesPerTick = 8.0;

StandModel twenty_four() {
  StandModel model;
  model.image = "marks24";
  model.marks = 24;
  return model;
}

} // namespace

TEST_CASE("exact: at 2400 pulses a second every pulse arrives, stamped to one tick", "[timing]") {
  Stand stand(twenty_four());
  stand.greet();
  stand.start({{0, rpm(6000), rpm_per_s(2500), seconds(1.0)}}, rpm_per_s(3000));
  REQUIRE(stand.finish(ms(20000)));
  stand.chip.run_for(ms(60));
  const auto& edges = stand.rig.edges();
  const auto& ticks = stand.host.ticks();
  CHECK(stand.host.last().latch == Latch::done);
  CHECK(stand.host.losses().pulses == 0);
  CHECK(stand.host.last().pulses_dropped == 0);
  CHECK(stand.host.losses().mark_slips == 0);
  REQUIRE(ticks.size() + 3 >= edges.size()); // the last few may still be in the chip
  REQUIRE(ticks.size() > 3000);
  // The counter began some cycles after the bench's clock: one offset for all, and then a tick is
  // the last whole one before the edge.
  double lowest = 1e18;
  double highest = -1e18;
  for (std::size_t i = 0; i < ticks.size(); ++i) {
    const double off =
        static_cast<double>(edges[i]) / kCyclesPerTick - static_cast<double>(ticks[i]);
    lowest = std::min(lowest, off);
    highest = std::max(highest, off);
  }
  CHECK(highest - lowest <= 1.0);
  Figures("time_stamps")
      .line(std::to_string(ticks.size()) + " pulses at up to 2400/s: none lost, " +
            "stamps within " + std::to_string(highest - lowest) + " tick");
}

TEST_CASE("exact: marks are numbered from the index throughout", "[timing]") {
  Stand stand(twenty_four());
  stand.reach(Moment::second_dwell);
  const auto& marks = stand.host.marks();
  const auto first = std::find(marks.begin(), marks.end(), 0);
  REQUIRE(first != marks.end());
  for (auto at = first; at != marks.end(); ++at)
    CHECK(*at == static_cast<std::int16_t>((at - first) % 24));
}

TEST_CASE("exact: a wrap of the counter in a run shows to the host as a wrap, and costs nothing",
          "[timing]") {
  Stand stand({});
  stand.greet();
  stand.chip.poke16("overflows", 0xFFFF - 120); // some 4 s before the 32 bits are full
  stand.start(short_program(), rpm_per_s(1500));
  REQUIRE(stand.finish(ms(20000)));
  stand.chip.run_for(ms(60));
  CHECK(stand.host.last().latch == Latch::done);
  const auto losses = stand.host.losses();
  CHECK(losses.wraps == 1);
  CHECK(losses.pulses == 0);
  CHECK(losses.clock_disagrees == 0);
  const auto& ticks = stand.host.ticks();
  CHECK(std::is_sorted(ticks.begin(), ticks.end()));
}

TEST_CASE("servo pulses keep their period and are never cut, whatever the command does",
          "[timing]") {
  for (const char* image : {"plain", "slow"}) {
    CAPTURE(image);
    StandModel model;
    model.image = image;
    Stand stand(model);
    std::vector<Cycles> ends;
    std::vector<Cycles> widths;
    stand.chip.on_servo_pulse([&](Cycles width) {
      ends.push_back(stand.now());
      widths.push_back(width);
      stand.rig.servo_pulse(width);
    });
    stand.reach(Moment::second_ramp, ms(200));
    stand.host.send_stop(link::StopKind::cut);
    stand.chip.run_for(ms(100));
    const double period = std::string(image) == "slow" ? 320000.0 : 64000.0;
    REQUIRE(widths.size() > 100);
    for (std::size_t i = 2; i < widths.size(); ++i) {
      const double rise_to_rise = static_cast<double>(ends[i] - widths[i]) -
                                  static_cast<double>(ends[i - 1] - widths[i - 1]);
      CHECK(std::abs(rise_to_rise - period) <= 8.0);
      CHECK(widths[i] >= 16000 - 8);
      CHECK(widths[i] <= 32000 + 8);
    }
    CHECK(std::abs(static_cast<double>(widths.back()) - 16000.0) <= 8.0); // no throttle
    CHECK(*std::max_element(widths.begin(), widths.end()) > 17600);
  }
}

TEST_CASE("stop: the profile's stop ramp, the motor on to its end, then off", "[timing]") {
  Stand stand({});
  stand.reach(Moment::second_dwell, ms(100));
  const Cycles asked = stand.now();
  const double from_rpm = stand.rig.rpm();
  stand.rig.trace(true);
  stand.host.send_stop(link::StopKind::stop);
  REQUIRE(stand.finish(ms(10000)));
  CHECK(stand.host.last().latch == Latch::operator_stop);
  const double took_s = to_s(*stand.rig.disabled_at() - asked);
  CHECK(took_s == Approx(from_rpm / 1000.0).margin(0.03)); // at 1000 rpm/s
  for (const TracePoint& point : stand.rig.traced()) {
    const double t = to_s(point.at - asked);
    if (t < took_s - 0.3)
      CHECK(point.rpm == Approx(from_rpm - 1000.0 * t).margin(60.0));
  }
}

TEST_CASE("the driver's clock and its ticks are one", "[timing]") {
  Stand stand({});
  stand.reach(Moment::second_dwell);
  for (const auto& [at, status] : stand.host.statuses())
    CHECK(static_cast<double>(status.clock_ms) == Approx(to_ms(at)).margin(4.0));
}

TEST_CASE("the firmware fits the chip with room, and its interrupts are short", "[timing]") {
  const Sizes sizes = measure_sizes();
  Figures("sizes_measured").line(to_text(sizes));
  CHECK(sizes.flash < 30720); // what a board with a boot loader of 2 KB has
  CHECK(sizes.variables + sizes.stack_used + 64 < 2048);
  CHECK(sizes.overruns == 0);
  CHECK(sizes.interrupts.size() >= 5);
  // Three bytes of the fastest line are 960 cycles: no byte is lost while the two longest run.
  for (const InterruptTime& time : sizes.interrupts) {
    CAPTURE(time.name);
    CHECK(time.longest < 250);
  }
}

TEST_CASE("bytes flipped on the line never turn the motor at a wrong speed", "[noise]") {
  for (const double damage : {1e-4, 1e-3, 1e-2})
    for (const std::uint64_t seed : {1U, 2U, 3U}) {
      CAPTURE(damage, seed);
      StandModel model;
      model.seed = seed;
      Stand stand(model);
      stand.line.damage(damage);
      stand.greet();
      stand.start(short_program(), rpm_per_s(1500));
      double highest = 0.0;
      const Cycles end = stand.now() + ms(15000);
      while (stand.now() < end &&
             (stand.chip.output(kEnablePin) || stand.rig.enabled_count() == 0)) {
        stand.chip.run_for(ms(1));
        highest = std::max(highest, stand.rig.rpm());
      }
      CHECK_FALSE(stand.chip.output(kEnablePin));
      CHECK(highest < 2400.0 * 1.02);
      stand.line.damage(0.0);
      stand.chip.run_for(ms(60));
      const auto latch = stand.host.last().latch;
      const std::set<Latch> lawful{Latch::done, Latch::link_lost, Latch::operator_cut,
                                   Latch::operator_stop, Latch::new_host};
      CHECK(lawful.count(latch) == 1);
      if (damage < 5e-3)
        CHECK(latch == Latch::done);
    }
}
