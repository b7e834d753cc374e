// Where a run is written down while it runs.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/run/state_machine.hpp"
#include "whirler/tach/live_watch.hpp"
#include "whirler/units/result.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

namespace whirler::session {

/// What is known of a run when it is over.
struct Summary {
  run::Ending ending = run::Ending::drive_fault;
  std::string cause;     ///< for people; empty when the program ran to its end
  std::size_t steps = 0; ///< reached, of the profile's
  bool standstill_seen = false;
  Speed top_speed;                 ///< highest that the tach showed
  std::optional<Speed> peak_error; ///< largest in the dwells, from half a second into each
  Duration length; ///< from start to rest, this computer's clock; the spinner's in a hurry
  std::optional<double> clock_ratio; ///< the drive's clock over this computer's; none in a hurry
  std::uint64_t pulses = 0;
  std::uint64_t pulses_lost = 0;
  std::optional<tach::LiveFigure> jitter; ///< of the dwell over a limit, else of the fastest
  bool has_tach = true;                   ///< else nothing can show whether the plate shakes
};

/// Times are since the start. Calls return at once: nothing here may hold up the loop that feeds
/// the dead-man.
class Record {
 public:
  virtual ~Record() = default;
  virtual void report(const drive::Report& report, Speed speed, Duration now) = 0;
  virtual void pulses(const drive::PulseBatch& batch) = 0;
  virtual void event(const std::string& text, Duration now) = 0;
  /// Everything is on disk when this returns, or the fault says that it is not.
  [[nodiscard]] virtual Outcome finish(const Summary& summary) = 0;
  /// The first thing that went wrong with writing, if anything has.
  [[nodiscard]] virtual std::optional<Fault> fault() const = 0;
  [[nodiscard]] virtual std::int64_t number() const = 0;
};

} // namespace whirler::session
