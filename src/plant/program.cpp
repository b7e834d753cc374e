#include "whirler/plant/program.hpp"

#include <algorithm>
#include <utility>

namespace whirler::plant {

void SegmentTable::clear() {
  for (auto& segment : held_)
    segment.reset();
}

std::optional<std::uint8_t> SegmentTable::first_missing(std::uint8_t count) const {
  for (std::uint8_t i = 0; i < count; ++i)
    if (i >= held_.size() || !held_[i])
      return i;
  return std::nullopt;
}

std::vector<link::Segment> SegmentTable::first(std::uint8_t count) const {
  std::vector<link::Segment> segments;
  for (std::size_t i = 0; i < count; ++i)
    segments.push_back(held_[i].value());
  return segments;
}

ProgramWalk::ProgramWalk(std::vector<link::Segment> segments, Ramp stop_slope, Speed from)
    : segments_(std::move(segments)), stop_slope_(stop_slope), speed_(from) {
  enter(link::Phase::ramp);
}

std::optional<std::uint8_t> ProgramWalk::segment() const {
  if (stopping_ || at_ >= segments_.size())
    return std::nullopt;
  return static_cast<std::uint8_t>(at_);
}

void ProgramWalk::enter(link::Phase phase) {
  phase_ = phase;
  in_phase_ = seconds(0.0);
}

void ProgramWalk::stop(Speed from) {
  stopping_ = true;
  speed_ = std::min(speed_, from);
  enter(link::Phase::ramp);
}

void ProgramWalk::advance(Duration dt) {
  while (dt > seconds(0.0) && !at_rest()) {
    if (stopping_) {
      dt = ramp(dt, rpm(0.0), stop_slope_);
    } else if (phase_ == link::Phase::ramp) {
      dt = ramp(dt, segments_[at_].target, segments_[at_].slope);
      if (speed_ == segments_[at_].target)
        enter(link::Phase::dwell);
    } else {
      dt = dwell(dt);
    }
  }
}

/// Moves the target towards `goal`; gives the time left over once it is there.
Duration ProgramWalk::ramp(Duration dt, Speed goal, Ramp slope) {
  const bool up = goal >= speed_;
  const double way = std::abs((goal - speed_).rad_per_s());
  const Duration needs = seconds(way / slope.rad_per_s2());
  slope_ = up ? slope : -slope;
  if (needs > dt) {
    in_phase_ += dt;
    speed_ += rad_per_s(slope_.rad_per_s2() * dt.s());
    return seconds(0.0);
  }
  in_phase_ += needs;
  speed_ = goal;
  slope_ = rad_per_s2(0.0);
  return dt - needs;
}

Duration ProgramWalk::dwell(Duration dt) {
  const Duration left = segments_[at_].dwell - in_phase_;
  if (left > dt) {
    in_phase_ += dt;
    return seconds(0.0);
  }
  if (++at_ < segments_.size())
    enter(link::Phase::ramp);
  else
    stop(speed_);
  return dt - left;
}

} // namespace whirler::plant
