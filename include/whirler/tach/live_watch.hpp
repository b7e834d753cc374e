// The once-per-turn figure of a run while it runs: fed a batch of pulses at a time, in memory that
// does not grow. Each turn adds to a least-squares fit that is eliminated as it goes (the same
// spline as in order_one.hpp), with the mount's equation integrated along the measured angle; so
// the slower part of a ramp tells pattern from unbalance, and what the rest of the ramp will bring.
//
//   LiveWatch watch(model, identity.tick);
//   watch.feed(batch.ticks, batch.marks);               // from on_pulses
//   if (watch.over_stop_limit() || watch.will_be_over(step.speed)) → Event::imbalance,
//   watch.reason()
//
// Both answers are slow to say yes: they want the lower bound at about one in a million over the
// limit, since every turn of every run asks anew. They latch.
#pragma once

#include "whirler/tach/order_one.hpp"
#include "whirler/tach/spinner_model.hpp"
#include "whirler/tach/verdict.hpp"

#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>

namespace whirler::tach {

struct LiveFigure {
  Speed speed;                ///< of the last turn
  Angle amplitude;            ///< of the last turns, less the pattern once that is known
  AngleInterval interval;     ///< 95 %
  bool pattern_known = false; ///< false: the figure still holds the marks' own unevenness
  std::optional<Angle> limit; ///< the stop limit as an angle at this speed
  Verdict verdict = Verdict::cannot_tell;
  std::string reason;    ///< of the verdict; where it cannot tell, why not and what to add
  std::size_t turns = 0; ///< seen so far
};

/// What the slower part of a ramp says of a speed not yet reached.
struct Prediction {
  Speed at;
  AngleInterval amplitude;                  ///< 95 %
  std::optional<VelocityInterval> velocity; ///< rotor's e times omega
};

class LiveWatch {
 public:
  /// `baseline`: the figure of the bare hub with index-true phase, if there is one for this
  /// machine. It is used once the marks fed are numbered, and not where none are.
  LiveWatch(const SpinnerModel& model, Duration tick,
            std::optional<OnceVector> baseline = std::nullopt);
  LiveWatch(LiveWatch&&) noexcept;
  LiveWatch& operator=(LiveWatch&&) noexcept;
  ~LiveWatch();

  /// Unwrapped ticks in order of arrival; `marks` empty where no index is known.
  void feed(std::span<const std::int64_t> ticks, std::span<const std::int16_t> marks);
  /// Pulses are known to be lost before the next batch. How many, where that is known (the line
  /// lost them, not the sensor): the count of marks goes on. Else it begins anew.
  void lost(std::uint64_t missing = 0);

  /// None before a few turns, and for one mark a turn.
  [[nodiscard]] std::optional<LiveFigure> figure() const;
  /// The plate is over the stop limit now, beyond reasonable doubt. Latches.
  [[nodiscard]] bool over_stop_limit() const;
  /// At `target` it would be. None of the speeds passed on the way are asked about.
  [[nodiscard]] bool will_be_over(Speed target) const;
  [[nodiscard]] std::optional<Prediction> predict(Speed target) const;
  /// Why the last of the two said yes, for the record and the screen; empty before.
  [[nodiscard]] std::string reason() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

} // namespace whirler::tach
