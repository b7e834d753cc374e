// The whole chain: the real host program, a pseudo-terminal, the firmware's ELF on the emulated
// chip, and the simulated spinner. In real time until the motor is off; what comes then, the wait
// for a standstill that the driver believes, is hurried.
#pragma once

#include "host_program.hpp"
#include "terminal.hpp"

#include <optional>
#include <string>

namespace bench {

/// What the host is told.
struct ChainFiles {
  int marks = 6;
  bool index = true;
  std::string lid = "switch";
  double speed_limit_rpm = 6000.0;
  /// 500 rpm for 0.7 s, then 1500 rpm for 0.7 s; where not empty, the text of another profile.
  std::string profile;
};

[[nodiscard]] std::string machine_text(const ChainFiles& files, const std::string& port);
[[nodiscard]] std::string profile_text(const ChainFiles& files);

/// What the host's JSON says of a run; empty where it says nothing.
struct HostAnswer {
  std::string outcome;
  std::string first_fault; ///< of those that it lists
  double peak_error_rpm = -1.0;
  double clock_ratio = 0.0;
  std::uint64_t pulses_lost = 0;
};

class Chain {
 public:
  /// The stand has stood for long enough to be believed; the host is started at once.
  Chain(const std::string& program, const StandModel& model, const ChainFiles& files,
        double damage = 0.0);

  /// Serves until a run has got there. False: the host ended before, or it took 20 s.
  bool reach(Moment moment);
  /// Serves until the motor's enable is low, at most so long. False: it stays high.
  bool until_off(Cycles patience);
  /// Serves, hurried, until the host has ended; its exit status, none when it does not end.
  std::optional<int> until_ended();
  void run_for(Cycles span) { stand.run_for(span); }

  [[nodiscard]] bool enabled() const { return stand.chip.output(kEnablePin); }
  [[nodiscard]] double top_rpm() const { return top_rpm_; }
  /// Once the host has ended.
  [[nodiscard]] HostAnswer answer() const;

 private:
  ScratchFolder folder_;

 public:
  LiveStand stand;
  HostProgram host;

 private:
  void serve(double hurry);

  double top_rpm_ = 0.0;
};

} // namespace bench
