#include "ramp_jump.hpp"

#include "statistics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <span>

namespace whirler::tach {
namespace {

constexpr std::size_t kSide = 8; ///< turns on each side; the one in which it jumps is left out
constexpr std::size_t kBoth = 2 * kSide;

using Shape = std::array<double, kBoth>;

/// Makes `shape` of length 1 and square to all in `to`; false where nothing is left of it.
bool make_square(Shape& shape, std::span<const Shape> to) {
  for (const Shape& other : to) {
    const double share = std::inner_product(shape.begin(), shape.end(), other.begin(), 0.0);
    for (std::size_t i = 0; i < kBoth; ++i)
      shape[i] -= share * other[i];
  }
  const double length =
      std::sqrt(std::inner_product(shape.begin(), shape.end(), shape.begin(), 0.0));
  for (double& value : shape)
    value /= length;
  return length > 0.0;
}

/// Powers 0 to 5 of the turn's number, and a step beside powers 0 to 2: length 1, square to those
/// before them.
struct Shapes {
  static constexpr std::size_t kPowers = 6;
  static constexpr std::size_t kBesideStep = 3;
  std::array<Shape, kPowers> power{};
  Shape step{};
  double of_step = 0.0; ///< share of a step of 1 in `step`

  Shapes() {
    Shape raw{};
    for (std::size_t i = 0; i < kBoth; ++i)
      raw[i] = i < kSide ? 0.0 : 1.0;
    for (std::size_t p = 0; p < kPowers; ++p) {
      for (std::size_t i = 0; i < kBoth; ++i) {
        const double turn = static_cast<double>(i) + (i < kSide ? 0.0 : 1.0);
        power[p][i] = std::pow(turn / static_cast<double>(kSide) - 1.0, static_cast<double>(p));
      }
      make_square(power[p], std::span(power).first(p));
    }
    step = raw;
    make_square(step, std::span(power).first(kBesideStep));
    of_step = std::inner_product(raw.begin(), raw.end(), step.begin(), 0.0);
  }
};

struct Step {
  double size = 0.0;
  double chance = 1.0;
};

/// The step in the middle of these turns.
Step step_in(const Shapes& shapes, const std::array<Complex, kBoth>& turns) {
  constexpr double kOfCurve = 0.3; // what a step leaves, of what a curve does
  const auto part = [&](const Shape& shape) {
    Complex sum;
    for (std::size_t i = 0; i < kBoth; ++i)
      sum += shape[i] * turns[i];
    return sum;
  };
  double left = 0.0;
  for (const Complex& turn : turns)
    left += std::norm(turn);
  double by_curve = left;
  for (std::size_t p = 0; p < Shapes::kPowers; ++p) {
    const double square = std::norm(part(shapes.power[p]));
    by_curve -= square;
    left -= p < Shapes::kBesideStep ? square : 0.0;
  }
  const Complex step = part(shapes.step);
  left = std::max(left - std::norm(step), 1e-30);
  if (left > kOfCurve * by_curve)
    return {};
  const double freedom = 2.0 * static_cast<double>(kBoth - Shapes::kBesideStep - 1);
  return {std::abs(step) / shapes.of_step,
          tail_f2(0.5 * std::norm(step) / (left / freedom), freedom)};
}

} // namespace

std::optional<RampJump> jump_in_ramps(const RunUpProblem& problem, const Mounts& mounts) {
  constexpr double kByChance = 1e-8;  // of all places together
  constexpr double kLeastStep = 3e-4; // rad
  const Shapes shapes;
  std::optional<RampJump> best;
  for (const auto& ramp : problem.rest_of_ramps(mounts)) {
    std::size_t clear = 0; // turns in a row, up to this one, that count
    for (std::size_t end = 0; end < ramp.size(); ++end) {
      clear = ramp[end].left_out ? 0 : clear + 1;
      if (clear <= kBoth)
        continue;
      const std::size_t middle = end - kSide;
      std::array<Complex, kBoth> turns;
      for (std::size_t i = 0; i < kBoth; ++i)
        turns[i] = ramp[middle - kSide + i + (i < kSide ? 0 : 1)].vector;
      const Step step = step_in(shapes, turns);
      if (step.size > std::max(kLeastStep, best ? best->size : 0.0) &&
          step.chance * static_cast<double>(ramp.size()) < kByChance)
        best = RampJump{step.size, ramp[middle].speed};
    }
  }
  return best;
}

} // namespace whirler::tach
