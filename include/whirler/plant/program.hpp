// The program that a driver holds: a table of segments, and the walk along it by the driver's own
// clock.
//
//   target                    The ramp begins from the speed measured when the walk begins. A dwell
//   |      ______             begins when the target (not the plate) arrives, so that the timeline
//   |     /      \            is known before anything turns.
//   |____/        \____
#pragma once

#include "whirler/link/messages.hpp"
#include "whirler/plant/speed_loop.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace whirler::plant {

class SegmentTable {
 public:
  explicit SegmentTable(std::size_t room) : held_(room) {}

  void clear();
  /// The index must be below the room.
  void put(const link::Segment& segment) { held_[segment.index] = segment; }
  /// The lowest index below `count` that was never put.
  [[nodiscard]] std::optional<std::uint8_t> first_missing(std::uint8_t count) const;
  /// The first `count`, none of which may be missing.
  [[nodiscard]] std::vector<link::Segment> first(std::uint8_t count) const;

 private:
  std::vector<std::optional<link::Segment>> held_;
};

/// Walks a program once, from a speed, to its stop ramp's end.
class ProgramWalk {
 public:
  ProgramWalk() = default;
  ProgramWalk(std::vector<link::Segment> segments, Ramp stop_slope, Speed from);

  void advance(Duration dt);
  /// Leaves the program for the stop ramp, from `from` if that is lower than the target.
  void stop(Speed from);

  [[nodiscard]] Target target() const { return {speed_, slope_}; }
  [[nodiscard]] bool stopping() const { return stopping_; }
  [[nodiscard]] bool at_rest() const { return stopping_ && speed_ <= rpm(0.0); }
  [[nodiscard]] std::optional<std::uint8_t> segment() const;
  [[nodiscard]] link::Phase phase() const { return phase_; }
  [[nodiscard]] Duration in_phase() const { return in_phase_; }

 private:
  [[nodiscard]] Duration ramp(Duration dt, Speed goal, Ramp slope);
  [[nodiscard]] Duration dwell(Duration dt);
  void enter(link::Phase phase);

  std::vector<link::Segment> segments_;
  Ramp stop_slope_;
  std::size_t at_ = 0;
  Speed speed_;
  Ramp slope_;
  link::Phase phase_ = link::Phase::none;
  Duration in_phase_;
  bool stopping_ = false;
};

} // namespace whirler::plant
