// Executes one run: the state machine, a drive, the live watch and the record, in one loop.
//
//   signals ─┐
//   reports ─┼─> event ─> run::advance ─> actions ─> drive
//   pulses  ─┤      (one thread, one io_context: no two events at once)
//   timer   ─┘
//
// The loop never waits for a disk or a screen: both are served by threads of their own, and a
// record that cannot keep up stops the run. Keep-alives are sent from here, after a report has been
// digested, so that a loop that hangs is seen by the driver's dead-man.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/drive/modbus_drive.hpp"
#include "whirler/session/progress.hpp"
#include "whirler/session/record.hpp"
#include "whirler/tach/live_watch.hpp"

#include <boost/asio/io_context.hpp>

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace whirler::session {

struct RunOrder {
  run::Plan plan; ///< its `driver` is filled in by the greeting
  tach::SpinnerModel spinner;
  std::optional<tach::OnceVector> baseline; ///< the bare hub's figure
  Duration patience = seconds(5); ///< how long a silent driver is waited for, its boot included
  double hurry = 1.0;             ///< a simulated spinner's time runs so many times faster
};

/// What the caller is told while the run goes. Called from the loop: must return at once.
struct Observer {
  std::function<void(const drive::Identity&)> on_greeted;
  std::function<void(const Progress&)> on_progress; ///< ten a second
  std::function<void(const std::string&)> on_event; ///< a line for people
};

/// Begins the record, when every check has passed and before anything turns.
using OpenRecord = std::function<Result<std::unique_ptr<Record>>(const drive::Identity&)>;

struct RunResult {
  std::vector<Fault> faults; ///< why nothing was started; then all below is empty
  std::optional<Summary> summary;
  std::optional<std::int64_t> coat; ///< its number in the notebook
  std::optional<drive::Identity> identity;
};

/// Runs `order` on `drive`. SIGINT, SIGTERM, SIGHUP, SIGTSTP and SIGQUIT are taken over while it
/// runs: each ends with the motor off.
[[nodiscard]] RunResult execute(boost::asio::io_context& context, drive::Drive& drive,
                                const RunOrder& order, const OpenRecord& open_record,
                                const Observer& observer);

/// The same on a driver that speaks the link at `path`. `fresh` tells this greeting, and this
/// start, from those before: any number that was not used a moment ago.
[[nodiscard]] RunResult execute_on_port(const std::string& path, int baud, std::uint32_t fresh,
                                        const RunOrder& order, const OpenRecord& open_record,
                                        const Observer& observer);

/// The same on a Modbus drive.
[[nodiscard]] RunResult execute_on_modbus(const drive::ModbusPlace& place, std::uint32_t fresh,
                                          const RunOrder& order, const OpenRecord& open_record,
                                          const Observer& observer);

} // namespace whirler::session
