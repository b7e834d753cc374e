// The simulated spinner behind a real pseudo-terminal, in a thread of its own: a host opens its
// port like any other and exchanges the same bytes with it as with a driver on the bench.
//
// Time. At speed-up 1 the spinner's clock is the wall's. At speed-up s the spinner and its driver
// live s times as fast: a 60 s dwell is over in 60/s s, reports come every 20/s ms. The driver's
// dead-man would then be 250/s ms of the wall's time, which no ordinary computer promises to meet.
// So above 1 the spinner waits for its host: once a turning driver has heard no fresh keep-alive
// for 100 ms of its own time, its time stands still until one comes, or until 250 ms of the wall's
// time have passed; then its time runs on and the dead-man acts. A host needs no scaled clock: it
// keeps its time-outs in wall time and takes dwells from the driver, as it must anyway.
//
// If this thread itself is late (a busy machine, a laptop asleep), time up to 50 ms is made up for;
// the rest is dropped: the spinner stood still, it did not run on unwatched.
//
// Rejected: sharing the caller's event loop. A host that hangs must not stop the spinner, or no
// test could show that the dead-man works.
#pragma once

#include "whirler/plant/simulated_driver.hpp"
#include "whirler/units/result.hpp"

#include <functional>
#include <memory>
#include <string>

namespace whirler::drive {

struct SimulationOptions {
  plant::Setup setup;
  double speed_up = 1.0;       ///< 1 to 100
  std::string link;            ///< a symbolic link to make to the port; empty: none
  bool resets_on_open = false; ///< as many boards do
  /// Called from the simulation's thread with a line for people when something happens (a client
  /// comes, the motor starts, a latch falls). May be empty.
  std::function<void(const std::string&)> on_event;
};

class SimulatedDrive {
 public:
  /// Faults: no pseudo-terminal to be had (link), the link cannot be made (link), a speed-up out of
  /// range (command_line).
  [[nodiscard]] static Result<SimulatedDrive> start(SimulationOptions options);
  SimulatedDrive(SimulatedDrive&&) noexcept;
  SimulatedDrive& operator=(SimulatedDrive&&) noexcept;
  /// Ends the thread and takes the port away, as unplugging would.
  ~SimulatedDrive();

  /// What a client opens. After a cable was pulled and put back it may be another.
  [[nodiscard]] std::string port() const;
  /// What is really so, as of the last step.
  [[nodiscard]] plant::Truth truth() const;

 private:
  struct Thread;
  explicit SimulatedDrive(std::unique_ptr<Thread> thread);
  std::unique_ptr<Thread> thread_;
};

} // namespace whirler::drive
