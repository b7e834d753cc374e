#include "catch.hpp"
#include "whirler/run/state_machine.hpp"

#include <algorithm>
#include <random>
#include <set>

using namespace whirler;
using namespace whirler::run;

namespace {

bool has(const Step& step, Action action) {
  return std::find(step.actions.begin(), step.actions.end(), action) != step.actions.end();
}

Run in(State state) {
  Run run;
  run.state = state;
  run.since = seconds(10);
  return run;
}

const std::set<Event> kSoftStops{Event::operator_stop, Event::terminated, Event::imbalance,
                                 Event::limit, Event::record_failed};
const std::set<Event> kHardStops{Event::operator_cut, Event::lid_open,        Event::overspeed,
                                 Event::stall,        Event::tach_lost,       Event::drive_fault,
                                 Event::link_lost,    Event::tach_implausible};

/// The whole table, written out a second time from the rules: where each pair must lead.
State expected(State state, Event event) {
  if (state == State::done)
    return State::done;
  const bool moving = is_moving(state);
  if (kSoftStops.contains(event))
    return !moving ? State::done : state == State::cutting ? State::cutting : State::stopping;
  if (kHardStops.contains(event))
    return moving ? State::cutting : State::done;
  const bool under_way =
      state == State::arming || state == State::ramping || state == State::dwelling;
  if (event == Event::plan_accepted && state == State::idle)
    return State::ready;
  if (event == Event::start && state == State::ready)
    return State::arming;
  if (event == Event::ramp_begun && under_way)
    return State::ramping;
  if (event == Event::dwell_begun && under_way)
    return State::dwelling;
  if (event == Event::program_ended && under_way)
    return State::stopping;
  if (event == Event::standstill && (state == State::stopping || state == State::cutting))
    return State::done;
  return state;
}

} // namespace

TEST_CASE("run: every state and event lead where the rules say, and stops command the motor off") {
  for (int s = 0; s < kStates; ++s)
    for (int e = 0; e < kEvents; ++e) {
      const auto state = static_cast<State>(s);
      const auto event = static_cast<Event>(e);
      CAPTURE(word(state), word(event));
      const Step step = advance(in(state), event, seconds(11));
      CHECK(step.run.state == expected(state, event));
      const bool under_way =
          state == State::arming || state == State::ramping || state == State::dwelling;
      if (kHardStops.contains(event) && is_moving(state) && state != State::cutting)
        CHECK(has(step, Action::send_cut));
      if (kSoftStops.contains(event) && under_way)
        CHECK(has(step, Action::send_stop));
      if (step.run.state == State::done && state != State::done) {
        CHECK(has(step, Action::end));
        CHECK(step.run.ending.has_value());
      }
      CHECK(has(step, Action::send_program_and_start) ==
            (state == State::ready && event == Event::start));
    }
}

TEST_CASE("run: the first reason to end is kept, and a later one can only make the stop harder") {
  Step step = advance(in(State::dwelling), Event::operator_stop, seconds(11));
  step = advance(step.run, Event::lid_open, seconds(12));
  CHECK(step.run.state == State::cutting);
  CHECK(step.run.ending == Ending::operator_stop);
  step = advance(step.run, Event::operator_stop, seconds(12.5));
  CHECK(step.run.state == State::cutting);
}

TEST_CASE("run: a lid opened while a finished program still coasts is no completed run") {
  Step step = advance(in(State::dwelling), Event::program_ended, seconds(11));
  CHECK(step.run.ending == Ending::completed);
  step = advance(step.run, Event::lid_open, seconds(12));
  CHECK(step.run.ending == Ending::lid);
  CHECK(has(step, Action::send_cut));
}

TEST_CASE("run: a stop that does not come to rest in its time becomes a cut, and a cut ends") {
  Step step = advance(in(State::ramping), Event::operator_stop, seconds(11));
  const Duration stop_over = seconds(11) + step.run.deadlines.stop;
  CHECK(advance(step.run, Event::tick, stop_over - seconds(0.1)).run.state == State::stopping);
  step = advance(step.run, Event::tick, stop_over);
  CHECK(step.run.state == State::cutting);
  CHECK(has(step, Action::send_cut));
  step = advance(step.run, Event::tick, stop_over + step.run.deadlines.cut);
  CHECK(step.run.state == State::done);
  CHECK_FALSE(step.run.standstill_seen);
}

TEST_CASE(
    "run: with the motor off by the stop ramp, the coast-down has its own time and is no fault") {
  Step step = advance(in(State::dwelling), Event::program_ended, seconds(11));
  step = advance(step.run, Event::motor_off, seconds(15));
  const Duration over = seconds(15) + step.run.deadlines.cut;
  CHECK(advance(step.run, Event::tick, over - seconds(0.1)).run.state == State::stopping);
  CHECK(advance(step.run, Event::standstill, over - seconds(0.1)).run.ending == Ending::completed);
  step = advance(step.run, Event::tick, over);
  CHECK(step.run.state == State::done);
  CHECK(step.run.ending == Ending::completed);
  CHECK_FALSE(step.run.standstill_seen);
}

TEST_CASE("run: with the link lost the run ends within the short deadline") {
  Step step = advance(in(State::dwelling), Event::link_lost, seconds(11));
  step = advance(step.run, Event::tick, seconds(11) + step.run.deadlines.cut_unheard);
  CHECK(step.run.state == State::done);
  CHECK(step.run.ending == Ending::link_lost);
}

TEST_CASE("run: whatever the order of events, a started run commands the motor off or sees its "
          "program end at standstill") {
  std::mt19937 random(20260311);
  std::uniform_int_distribution<int> any(0, kEvents - 1);
  for (int round = 0; round < 20000; ++round) {
    Run run = advance(Run{}, Event::plan_accepted, seconds(0)).run;
    run = advance(run, Event::start, seconds(0)).run;
    REQUIRE(run.state == State::arming);
    bool commanded_off = false, program_ended = false;
    double now = 0.0;
    for (int i = 0; i < 40 && run.state != State::done; ++i) {
      const auto event = static_cast<Event>(any(random));
      now += 1.0;
      const Step step = advance(run, event, seconds(now));
      commanded_off = commanded_off || has(step, Action::send_cut) || has(step, Action::send_stop);
      program_ended = program_ended || (event == Event::program_ended && is_moving(run.state));
      run = step.run;
    }
    if (run.state == State::done)
      CHECK((commanded_off || (program_ended && run.standstill_seen)));
  }
}

TEST_CASE("run: every ending has a word of its own, and the word reads back") {
  std::set<std::string_view> words;
  for (int e = 0; e <= static_cast<int>(Ending::record); ++e) {
    const auto ending = static_cast<Ending>(e);
    CHECK(words.insert(word(ending)).second);
    CHECK(ending_from_word(word(ending)) == ending);
  }
  CHECK_FALSE(ending_from_word("fine").has_value());
}
