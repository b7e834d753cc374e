// The builds beside the plain one: each does its work on the emulated chip.
#include "catch.hpp"

#include "following.hpp"

namespace {

using namespace bench;
namespace link = whirler::link;
using link::Latch;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

StandModel built(const char* image) {
  StandModel model;
  model.image = image;
  return model;
}

} // namespace

TEST_CASE("plain pulse width turns a brushed motor along the same program", "[variants]") {
  StandModel model = built("pwm");
  model.stage = MotorStage::pwm;
  const Following run = follow("pwm", model, short_program(), rpm_per_s(1000));
  CHECK(run.ended == Latch::done);
  for (const auto& dwell : run.dwells) {
    CAPTURE(dwell.target_rpm);
    CHECK(std::abs(dwell.mean_error_percent) < 0.5);
    CHECK(dwell.overshoot_percent < 3.0);
  }
}

TEST_CASE("plain pulse width goes to nothing at a cut", "[variants]") {
  StandModel model = built("pwm");
  model.stage = MotorStage::pwm;
  Stand stand(model);
  stand.reach(Moment::second_dwell);
  CHECK(stand.chip.pwm_duty() > 0.1);
  stand.host.send_stop(link::StopKind::cut);
  stand.chip.run_for(ms(1));
  CHECK(stand.chip.pwm_duty() == 0.0);
  CHECK_FALSE(stand.chip.output(kEnablePin));
}

TEST_CASE("a controller that takes 50 pulses a second is driven along the same program",
          "[variants]") {
  const Following run = follow("slow", built("slow"), short_program(), rpm_per_s(1000));
  CHECK(run.ended == Latch::done);
  for (const auto& dwell : run.dwells) {
    CAPTURE(dwell.target_rpm);
    CHECK(std::abs(dwell.mean_error_percent) < 0.5);
    CHECK(dwell.overshoot_percent < 4.0);
  }
}

TEST_CASE("a wide mark is the index, without a second sensor", "[variants]") {
  StandModel model = built("wide24");
  model.marks = 24;
  model.wide_index = true;
  Stand stand(model);
  stand.reach(Moment::second_dwell, ms(300));
  const auto& marks = stand.host.marks();
  const auto first = std::find_if(marks.begin(), marks.end(), [](int mark) { return mark >= 0; });
  REQUIRE(marks.end() - first > 200);
  for (auto at = first; at != marks.end(); ++at)
    CHECK(*at == static_cast<std::int16_t>((*first + (at - first)) % 24));
  CHECK(stand.host.losses().mark_slips == 0);
  // It is the wide mark that is called 0: its pulse is as long as two of the others.
  CHECK(stand.rig.edges().size() >= stand.host.ticks().size());
}

TEST_CASE("without lid switch, index and supply wire the driver says so, and asks for a yes",
          "[variants]") {
  StandModel model = built("bare");
  model.index = false;
  model.supply_wire = false;
  Stand stand(model);
  const auto reply = stand.host.greet();
  REQUIRE(reply);
  CHECK_FALSE(reply->index);
  CHECK_FALSE(reply->lid_switch);
  CHECK(reply->enable_output);
  stand.greet();
  link::Start start;
  start.stop_slope = rpm_per_s(1000);
  start.ceiling = rpm(6000);
  start.token = 9;
  auto answer = stand.host.start(short_program(), start);
  REQUIRE(answer);
  const auto* nak = std::get_if<link::Nak>(&*answer);
  REQUIRE(nak);
  CHECK(nak->code == link::NakCode::lid_unknown);
  start.lid_confirmed = true;
  answer = stand.host.start(short_program(), start);
  REQUIRE(answer);
  CHECK(std::holds_alternative<link::Ack>(*answer));
  REQUIRE(stand.host.run_until([](const link::Status& s) { return s.segment == 1; }, ms(10000)));
  for (const auto mark : stand.host.marks())
    CHECK(mark == -1);
  CHECK(stand.host.last().lid == link::LidState::no_switch);
}

TEST_CASE("without an index half the marks are found out by the command that they need",
          "[variants]") {
  StandModel model = built("bare");
  model.marks = 3; // of the six that the driver is built for
  model.index = false;
  model.supply_wire = false;
  Stand stand(model);
  stand.greet();
  stand.start({{0, rpm(3000), rpm_per_s(600), seconds(3.0)}}, rpm_per_s(1000));
  const auto dwells = [](const link::Status& s) { return s.phase == link::Phase::dwell; };
  REQUIRE(stand.host.run_until(dwells, ms(30000))); // it turns at 6000 rpm and is shown as 3000
  const Cycles dwell = stand.now();
  while (stand.chip.output(kEnablePin) && stand.now() < dwell + ms(3000))
    stand.chip.run_for(ms(1));
  CHECK(to_ms(*stand.rig.disabled_at() - dwell) < 400.0);
  stand.chip.run_for(ms(50));
  CHECK(stand.host.last().latch == Latch::tach_implausible);
}
