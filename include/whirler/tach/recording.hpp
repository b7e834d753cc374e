// A recorded run, read whole: which part of it the figure is taken from, what tells the marks'
// pattern from the plate, the verdict, and the causes that the pulses show.
//
// The figure is that of the fastest steady stretch (where unbalance matters most), or, with a
// baseline, of the fastest that the baseline was run at too. The pattern is taken out by the
// baseline where there is one at that speed, else by the fit of the record's other speeds.
#pragma once

#include "whirler/tach/acceleration.hpp"
#include "whirler/tach/findings.hpp"
#include "whirler/tach/pulses.hpp"
#include "whirler/tach/run_up.hpp"
#include "whirler/tach/spinner_model.hpp"
#include "whirler/tach/verdict.hpp"
#include "whirler/units/speed_curve.hpp"

#include <optional>
#include <vector>

namespace whirler::tach {

struct Recording {
  PulseTrain pulses;
  std::optional<PulseTrain> baseline; ///< of the bare hub
  SpinnerModel model;
  SpeedCurve asked; ///< what the drive was told, on the pulses' clock; empty if not known
  std::optional<AccelerationTrack> acceleration = std::nullopt; ///< on the pulses' clock
};

/// The whole once-per-turn vector of some turns, pattern and all: for drawings.
struct TracePoint {
  Duration at; ///< since the first pulse
  Speed speed;
  OnceVector vector;
  Angle spread; ///< standard deviation of each component
};

/// The vector of a block of turns within the figure's stretch; independent of the other blocks'.
struct BlockFigure {
  OnceVector vector;
  Angle spread; ///< standard deviation of each component
};

/// Where angles are counted from: without an index the first pulse's mark is mark 0.
enum class AngleFrom { index_mark, first_pulse };

/// Unbalance of all that turns, where mount and masses are known. Of two marks with a baseline it
/// is what they show along one direction: the whole is at least as much.
struct UnbalanceFigure {
  Unbalance low;
  Unbalance estimate;
  Unbalance high;
  std::optional<Angle> heavy_side; ///< with the rotation, 0 to 360 degrees; see AngleFrom
};

struct Analysis {
  OrderOne figure; ///< less the pattern, where `pattern_from` says so
  OnceVector raw;  ///< as the marks show it
  PatternFrom pattern_from = PatternFrom::nothing;
  AngleFrom angle_from = AngleFrom::index_mark;
  std::optional<OnceVector> pattern; ///< what was taken off
  std::optional<RunUp> run_up;
  std::optional<AccelerationFigure> acceleration;
  std::optional<VelocityInterval> velocity; ///< rotor's e times omega
  std::optional<UnbalanceFigure> unbalance;
  Judgement judgement;
  std::vector<Finding> findings;
  std::vector<BlockFigure> blocks; ///< of the figure's stretch, less the pattern
  std::vector<TracePoint> trace;   ///< of the whole record, at most some 300
};

/// Faults (input): no pulses of a spindle (fewer than 4 whole turns in one piece), marks outside
/// 1..1024, too many faults, mark numbers that contradict the pulses; the same of the baseline.
[[nodiscard]] Result<Analysis> analyse(const Recording& recording);

} // namespace whirler::tach
