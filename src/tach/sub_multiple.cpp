#include "sub_multiple.hpp"

#include "mount_motion.hpp"
#include "statistics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;
constexpr std::size_t kPiece = 48; ///< turns; a multiple of 2 and of 3

/// Angle of a piece's pulses (thinned) about an even speed and the marks' pattern, rad.
std::vector<double> swings(const Survey::Part& part, std::size_t from, std::size_t every) {
  const std::size_t marks = part.marks / every;
  const std::size_t n = kPiece * marks;
  const auto tick_at = [&](std::size_t i) {
    return static_cast<double>(part.slots.ticks[from * part.marks + i * every] -
                               part.slots.ticks[from * part.marks]);
  };
  const double per_tick = kTwoPi * static_cast<double>(kPiece) / tick_at(n);
  std::vector<double> x(n);
  std::vector<double> usual(marks, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    x[i] = tick_at(i) * per_tick - kTwoPi * static_cast<double>(i) / static_cast<double>(marks);
    usual[i % marks] += x[i] / static_cast<double>(kPiece);
  }
  for (std::size_t i = 0; i < n; ++i)
    x[i] -= usual[i % marks];
  return x;
}

/// Orders are counted in bins of 1/48.
class Transform {
 public:
  explicit Transform(std::size_t pulses) : window_(pulses) {
    for (std::size_t i = 0; i < pulses; ++i) {
      const double s =
          std::sin(0.5 * kTwoPi * (static_cast<double>(i) + 0.5) / static_cast<double>(pulses));
      window_[i] = s * s * s * s; // what hunts is far from these orders, and large
      sum_ += window_[i];
    }
  }
  /// Square of the amplitude at a bin.
  [[nodiscard]] double square(const std::vector<double>& x, std::size_t bin) const {
    const Complex turn =
        std::polar(1.0, -kTwoPi * static_cast<double>(bin) / static_cast<double>(x.size()));
    Complex at{1.0, 0.0};
    Complex sum;
    for (std::size_t i = 0; i < x.size(); ++i) {
      sum += window_[i] * x[i] * at;
      at = Complex{at.real() * turn.real() - at.imag() * turn.imag(),
                   at.real() * turn.imag() + at.imag() * turn.real()};
    }
    return 4.0 * std::norm(sum) / (sum_ * sum_);
  }

 private:
  std::vector<double> window_;
  double sum_ = 0.0;
};

/// Of very many marks every so-manyth will do.
std::size_t thinning(std::size_t marks) {
  constexpr std::size_t kFew = 12;
  std::size_t best = 1;
  for (std::size_t every = 2; marks / every >= kFew; ++every)
    if (marks % every == 0)
      best = every;
  return best;
}

} // namespace

SubMultiple sub_multiple(const Survey::Part& part, const Dwell& dwell) {
  constexpr std::size_t kMostPieces = 20; // what rattles does so all along
  constexpr std::size_t kReach = 7;       // bins on each side that say what noise there is
  constexpr std::size_t kClear = 4;       // the window's own width
  constexpr double kByChance = 1e-8;
  constexpr double kLasts = 3.0; // times what is around it
  const std::size_t pieces = std::min(dwell.turns() / kPiece, kMostPieces);
  if (pieces == 0 || part.marks < 2)
    return {};
  const std::size_t every = thinning(part.marks);
  const Transform transform(kPiece * (part.marks / every));
  struct Squares {
    int of;
    double here = 0.0;
    double below = 0.0;
    double above = 0.0;
    double beside = 0.0; ///< the larger of the next bins: what a belt has, nearly in step
    double later = 0.0;  ///< of `here`, in the stretch's second half
    double later_around = 0.0;
  };
  std::array<Squares, 2> both{{{2}, {3}}};
  for (std::size_t p = 0; p < pieces; ++p) {
    const auto x = swings(part, dwell.from + p * (dwell.turns() / pieces), every);
    const bool later = 2 * p >= pieces;
    for (Squares& sum : both) {
      const std::size_t bin = kPiece / static_cast<std::size_t>(sum.of);
      const double here = transform.square(x, bin);
      sum.here += here;
      sum.later += later ? here : 0.0;
      sum.beside += std::max(transform.square(x, bin - 1), transform.square(x, bin + 1));
      for (std::size_t off = kClear; off <= kReach; ++off) {
        const double below = transform.square(x, bin - off);
        const double above = transform.square(x, bin + off);
        sum.below += below;
        sum.above += above;
        sum.later_around += later ? std::max(below, above) : 0.0;
      }
    }
  }
  const double bins = static_cast<double>(kReach - kClear + 1);
  const double freedom = 2.0 * static_cast<double>(pieces);
  SubMultiple best;
  for (const Squares& sum : both) {
    const double ratio = sum.here * bins / std::max(sum.below, sum.above);
    const double amplitude = std::sqrt(sum.here / static_cast<double>(pieces));
    // A mount that rings after a ramp is gone in the second half.
    const bool lasts = sum.later * bins > kLasts * sum.later_around;
    if (lasts && sum.here > sum.beside && tail_f(ratio, freedom, bins * freedom) < kByChance &&
        amplitude > best.amplitude)
      best = {sum.of, amplitude};
  }
  return best;
}

} // namespace whirler::tach
