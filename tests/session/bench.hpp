// A whole bench for tests of a run: the simulated spinner behind a real pseudo-terminal, the real
// serial port and link, and a record in memory.
#pragma once

#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "catch.hpp"
#include "kept_record.hpp"
#include "whirler/drive/link_drive.hpp"
#include "whirler/drive/simulated_drive.hpp"
#include "whirler/plant/setup.hpp"
#include "whirler/session/run_session.hpp"

#include <boost/asio/steady_timer.hpp>

#include <string>
#include <vector>

namespace whirler::test {

class Bench {
 public:
  explicit Bench(std::vector<std::string> faults = {}, double speed_up = 20.0)
      : speed_up_(speed_up) {
    machine = plant::plain_machine();
    order.plan.machine = machine;
    order.plan.profile.steps = {{"spread", rpm(500), rpm_per_s(1000), seconds(3)},
                                {"thin", rpm(2000), rpm_per_s(1000), seconds(6)}};
    order.plan.profile.stop_ramp = rpm_per_s(1000);
    order.spinner.marks_per_turn = machine.tach.marks_per_turn;
    order.hurry = speed_up;
    for (const auto& text : faults) {
      const auto fault = plant::parse_fault(text);
      REQUIRE(fault.ok());
      faults_.push_back(*fault);
    }
  }

  /// Runs the order; `meanwhile` is called inside the loop's context, once, after `at` of the
  /// spinner's time.
  session::RunResult run(Duration at = seconds(0), std::function<void()> meanwhile = {}) {
    auto setup = plant::make_setup(machine, plate);
    REQUIRE(setup.ok());
    setup->faults = faults_;
    drive::SimulationOptions options;
    options.setup = *setup;
    options.speed_up = speed_up_;
    auto started = drive::SimulatedDrive::start(std::move(options));
    REQUIRE(started.ok());
    spinner.emplace(std::move(*started));
    auto port = drive::SerialPort::open(io_, spinner->port(), 500000);
    REQUIRE(port.ok());
    drive::LinkDrive link(io_, std::move(*port), spinner->port(), 99);
    boost::asio::steady_timer timer(io_);
    if (meanwhile) {
      timer.expires_after(std::chrono::microseconds(static_cast<long>(at.us() / speed_up_)));
      timer.async_wait([&](boost::system::error_code error) {
        if (!error)
          meanwhile();
      });
    }
    session::Observer observer;
    observer.on_progress = [this](const session::Progress& progress) { shown.push_back(progress); };
    return session::execute(
        io_, link, order,
        [this](const drive::Identity&) -> Result<std::unique_ptr<session::Record>> {
          return std::unique_ptr<session::Record>(std::make_unique<MemoryRecord>(kept));
        },
        observer);
  }

  /// A 100 x 80 mm plate of some 29 g with its hole `off` its middle, and limits to hold it to.
  void bolt_on(Length off, Velocity watch, Velocity stop) {
    plate.emplace();
    plate->outline = blank::Rectangle{millimetres(100), millimetres(80)};
    plate->thickness = millimetres(1.6);
    plate->copper = {micrometres(35), micrometres(35)};
    plate->hole = {millimetres(4.2), {off, millimetres(0)}};
    auto& spinner_model = order.spinner;
    spinner_model.mark_radius = machine.tach.mark_radius;
    spinner_model.moving_mass = machine.mount->moving;
    spinner_model.natural = machine.mount->natural;
    spinner_model.damping = machine.mount->damping;
    spinner_model.rotor_mass = machine.rotor.mass + grams(28.5);
    spinner_model.limits.watch_velocity = watch;
    spinner_model.limits.stop_velocity = stop;
  }

  machine::Machine machine;
  std::optional<blank::Blank> plate;
  session::RunOrder order;
  Kept kept;
  std::vector<session::Progress> shown;
  std::optional<drive::SimulatedDrive> spinner; ///< still there after the run: what is really so

 private:
  double speed_up_;
  std::vector<plant::ScriptedFault> faults_;
  boost::asio::io_context io_;
};

} // namespace whirler::test
