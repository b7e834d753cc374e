// A workshop with a Modbus drive: the real port, master, drive and run loop, libmodbus's server at
// the other end, and a motor that obeys its registers or does not.
#pragma once

#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "../session/kept_record.hpp"
#include "modbus_bench.hpp"
#include "whirler/drive/modbus_drive.hpp"
#include "whirler/session/run_session.hpp"

#include <boost/asio/steady_timer.hpp>

namespace whirler::test {

class Shop {
 public:
  Shop() : drive(bridge.drive_port(), 3) {
    place.setup.description = plain_drive();
    place.setup.unit = 3;
    place.setup.port_name = bridge.host_port();
    place.line = {19200, Parity::even, 1};
    auto& plan = order.plan;
    plan.machine.lid = machine::Lid::wired_to_drive;
    plan.machine.limits = {rpm(2500), rpm(200), rpm_per_s(4000), {}};
    plan.profile.steps = {{"spread", rpm(500), rpm_per_s(2000), seconds(0.4)},
                          {"thin", rpm(1500), rpm_per_s(2000), seconds(0.8)}};
    plan.profile.stop_ramp = rpm_per_s(2000);
  }

  /// `meanwhile` is called after every report, with the seconds since the start.
  session::RunResult run(const std::function<void(double)>& meanwhile = {}) {
    session::Observer observer;
    const auto begin = TestClock::now();
    observer.on_progress = [&, begin](const session::Progress& progress) {
      shown.push_back(progress);
      if (meanwhile)
        meanwhile(seconds_since(begin));
    };
    return session::execute_on_modbus(
        place, 7, order,
        [this](const whirler::drive::Identity&) -> Result<std::unique_ptr<session::Record>> {
          return std::unique_ptr<session::Record>(std::make_unique<MemoryRecord>(kept));
        },
        observer);
  }

  /// The shaft comes to rest, by itself or by command, within a few seconds.
  [[nodiscard]] bool comes_to_rest() const {
    const auto begin = TestClock::now();
    while (seconds_since(begin) < 4.0 && drive.speed_rpm() > 0.0)
      usleep(5000);
    return drive.speed_rpm() == 0.0 && !drive.running();
  }

  Bridge bridge;
  LibmodbusDrive drive;
  whirler::drive::ModbusPlace place;
  session::RunOrder order;
  Kept kept;
  std::vector<session::Progress> shown;
};

inline run::Ending ending_of(const session::RunResult& result) {
  for (const auto& fault : result.faults)
    UNSCOPED_INFO(to_text(fault));
  REQUIRE(result.summary.has_value());
  UNSCOPED_INFO(result.summary->cause);
  return result.summary->ending;
}

/// Calls `what` once, when `after` seconds have passed.
inline std::function<void(double)> once(double after, std::function<void()> what) {
  return [after, what = std::move(what), done = false](double now) mutable {
    if (!done && now > after) {
      done = true;
      what();
    }
  };
}

class Deaf final : public drive::Listener {
 public:
  void on_report(const drive::Report&) override {}
  void on_pulses(const drive::PulseBatch&) override {}
  void on_lost(const Fault&) override {}
};

inline Result<drive::DeadManProof> prove(Shop& shop, const std::function<bool()>& give_up = {}) {
  boost::asio::io_context io;
  Deaf deaf;
  auto opened = drive::open_modbus(io, shop.place, 1);
  REQUIRE(opened.ok());
  REQUIRE((*opened)->greet(deaf, seconds(2), {}).ok());
  return (*opened)->prove_dead_man(rpm(300), rpm_per_s(1000), give_up);
}

} // namespace whirler::test
