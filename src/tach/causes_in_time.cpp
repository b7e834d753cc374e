#include "causes_in_time.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::tach {
namespace {

constexpr double kTwoPi = 2.0 * std::numbers::pi;

constexpr std::size_t kSwingTurns = 1024; ///< what hunts does so all along

/// Relative speed of the figure's turns, as many as are looked at, about a straight line.
std::vector<double> speed_swings(const CauseSearch& s) {
  const std::size_t n = std::min(s.fit.turns, kSwingTurns);
  const TurnBegins begins = s.survey.parts[s.place.part].begins();
  std::vector<double> out(n);
  double mean = 0.0;
  double slope = 0.0;
  double norm = 0.0;
  const double middle = 0.5 * static_cast<double>(n - 1);
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t turn = s.place.dwell.from + i;
    out[i] = 1.0 / (begins[turn + 1] - begins[turn]);
    mean += out[i] / static_cast<double>(n);
  }
  for (std::size_t i = 0; i < n; ++i) {
    const double x = static_cast<double>(i) - middle;
    slope += x * out[i];
    norm += x * x;
  }
  for (std::size_t i = 0; i < n; ++i)
    out[i] = (out[i] - mean - slope / norm * (static_cast<double>(i) - middle)) / mean;
  return out;
}

struct Swing {
  double share = 0.0;     ///< of the swings' mean square
  double amplitude = 0.0; ///< relative
  double a_turn = 0.0;    ///< cycles a turn
};

/// The strongest sinusoid among the turns' speeds, by Goertzel's recursion at each frequency.
Swing strongest_swing(const std::vector<double>& swings) {
  const std::size_t n = swings.size();
  double power = 0.0;
  for (std::size_t i = 0; i < n; ++i)
    power += swings[i] * swings[i];
  Swing best;
  // Three cycles at least, or it may be a ramp; in steps of half a bin, up to a third of the turn's
  // own frequency.
  for (double cycles = 3.0; cycles < static_cast<double>(n) / 3.0; cycles += 0.5) {
    const double angle = kTwoPi * cycles / static_cast<double>(n);
    const double turn = 2.0 * std::cos(angle);
    double one = 0.0;
    double two = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      const double now = swings[i] + turn * one - two;
      two = one;
      one = now;
    }
    const double square = one * one + two * two - turn * one * two;
    const double share = 2.0 * square / static_cast<double>(n) / std::max(power, 1e-300);
    if (share > best.share)
      best = {share, 2.0 * std::sqrt(square) / static_cast<double>(n),
              cycles / static_cast<double>(n)};
  }
  return best;
}

} // namespace

void ask_hunting(const CauseSearch& s, std::vector<Finding>& out) {
  constexpr std::size_t kFewest = 30;
  constexpr double kWorthSaying = 5e-4;
  constexpr double kShare = 0.4;
  if (s.fit.turns < kFewest)
    return;
  const Swing swing = strongest_swing(speed_swings(s));
  if (swing.amplitude < kWorthSaying || swing.share < kShare)
    return;
  const double hertz_value = swing.a_turn * s.analysis.figure.speed.turns_per_s();
  out.push_back({Cause::hunting,
                 "the speed swings by " + number_text(100.0 * swing.amplitude, 2) + " % at " +
                     number_text(hertz_value, 2) + " Hz, which is not locked to the turn",
                 "no unbalance; tune the speed loop if the film shows it"});
}

namespace {

/// Turns much slower than the figure's: the slowest dwell, or the slowest few turns of a ramp.
std::optional<Place> slow_turns(const CauseSearch& s) {
  constexpr double kSlower = 0.66;
  constexpr std::size_t kTurns = 10;
  const auto& part = s.survey.parts[s.place.part];
  const TurnBegins begins = part.begins();
  const double speed = s.place.dwell.speed;
  std::optional<Place> best;
  for (const Dwell& d : part.dwells)
    if (d.speed < kSlower * speed && (!best || d.speed < best->dwell.speed))
      best = Place{s.place.part, d};
  if (best)
    return best;
  for (std::size_t from = 0; from + kTurns <= part.turns(); from += kTurns / 2) {
    const double here =
        kTwoPi * static_cast<double>(kTurns) / (begins[from + kTurns] - begins[from]);
    if (here < kSlower * speed && (!best || here < best->dwell.speed))
      best = Place{s.place.part, {from, from + kTurns, here}};
  }
  return best;
}

MarkPattern pattern_at(const CauseSearch& s, const Place& place) {
  const TurnBasis& basis = *s.survey.basis;
  const TurnRows rows = turn_rows(basis, s.survey.parts[place.part].slots, s.survey.marked.tick,
                                  place.dwell.from, place.dwell.to, Course::ramp);
  Elimination elimination(basis, 0);
  for (std::size_t i = 0; i < rows.turns(); ++i)
    elimination.add_turn(rows.turn(i), rows.speed[i] / rows.speed[0], rows.slope[i]);
  const BorderNormal normal = elimination.border();
  DwellFit fit;
  fit.turns = rows.turns();
  fit.beyond_rows = rows.beyond_rows;
  fit.solution = solve(normal);
  fit.noise = std::sqrt(fit.solution.rss /
                        std::max(1.0, normal.observations - static_cast<double>(normal.size)));
  return pattern_of(fit, basis);
}

} // namespace

bool cogging_can_be_told(const CauseSearch& search) {
  return search.pattern.late.size() > 3 && slow_turns(search).has_value();
}

namespace {

/// Standard deviation of an order's change. What hunts makes the lowest orders noisy, and not
/// those of the motor's poles: where there are many orders most are noise and say so themselves.
class ChangeSpread {
 public:
  using Orders = std::vector<std::complex<double>>;
  ChangeSpread(double sd, const Orders& slow, const Orders& fast, std::size_t marks) {
    constexpr std::size_t kMany = 16;
    constexpr double kMedian = 1.18; // of a Rayleigh distribution, over its deviation
    low_ = sd * std::sqrt(2.0 / static_cast<double>(marks));
    high_ = low_;
    if (marks < kMany)
      return;
    std::vector<double> changes;
    for (std::size_t order = 2; 2 * order < marks; ++order)
      changes.push_back(std::abs(slow[order] - fast[order]));
    const auto middle = changes.begin() + static_cast<std::ptrdiff_t>(changes.size() / 2);
    std::nth_element(changes.begin(), middle, changes.end());
    high_ = *middle / kMedian;
  }
  [[nodiscard]] double of(std::size_t order) const {
    constexpr std::size_t kLow = 8;
    return order < kLow ? std::max(low_, high_) : high_;
  }

 private:
  double low_;
  double high_;
};

/// Turns of a speed between the slow ones and the figure's, by the ratio of them.
std::optional<Place> turns_between(const CauseSearch& s, const Place& slow) {
  constexpr std::size_t kTurns = 10;
  const TurnBegins begins = s.survey.parts[s.place.part].begins();
  const double middle = std::sqrt(slow.dwell.speed * s.place.dwell.speed);
  std::optional<Place> best;
  double least = std::log(s.place.dwell.speed / slow.dwell.speed) / 4.0; // about half-way
  for (std::size_t from = 0; from + kTurns < begins.size(); from += kTurns / 2) {
    const double here =
        kTwoPi * static_cast<double>(kTurns) / (begins[from + kTurns] - begins[from]);
    if (std::abs(std::log(here / middle)) < least) {
      least = std::abs(std::log(here / middle));
      best = Place{s.place.part, {from, from + kTurns, here}};
    }
  }
  return best;
}

/// What the motor makes falls with speed squared: half-way it is nearly gone. Only where the slow
/// turns have more of it than the fast is that not asked, since what grows with speed does not.
class FallsWithSpeed {
 public:
  explicit FallsWithSpeed(const CauseSearch& s, const Place& slow) {
    if (const auto place = turns_between(s, slow)) {
      between_ = orders_of(pattern_at(s, *place));
      const double far = std::pow(slow.dwell.speed / s.place.dwell.speed, 2);
      expected_ = (std::pow(slow.dwell.speed / place->dwell.speed, 2) - far) / (1.0 - far);
    }
  }
  [[nodiscard]] bool holds(std::size_t order, std::complex<double> slow,
                           std::complex<double> fast) const {
    constexpr double kOff = 0.25; // of the change
    if (between_.empty())
      return false;
    const auto share = (between_[order] - fast) / (slow - fast);
    return std::abs(share - expected_) < kOff;
  }

 private:
  std::vector<std::complex<double>> between_;
  double expected_ = 0.0;
};

} // namespace

std::optional<Cogging> cogging_order(const CauseSearch& s) {
  constexpr double kWorthSaying = 1e-4; // rad
  constexpr double kSurely = 6.0;       // standard deviations
  const auto place = slow_turns(s);
  if (!place || s.pattern.late.size() < 4)
    return std::nullopt;
  const MarkPattern slow = pattern_at(s, *place);
  const std::size_t n = slow.late.size();
  const auto slow_orders = orders_of(slow);
  const auto fast_orders = orders_of(s.pattern);
  std::optional<Cogging> best;
  const ChangeSpread spread(std::hypot(slow.sd, s.pattern.sd), slow_orders, fast_orders, n);
  const FallsWithSpeed falls(s, *place);
  // A whirl of D rad is no small angle at its natural speed: some D^2 of it comes twice a turn.
  const double whirl = s.analysis.raw.amplitude().rad();
  double largest = std::max(kWorthSaying, whirl * whirl);
  for (std::size_t order = 2; 2 * order <= n; ++order) {
    const auto a = slow_orders[order];
    const auto b = fast_orders[order];
    if (std::abs(a - b) > std::max(largest, kSurely * spread.of(order)) &&
        (std::abs(a) > std::abs(b) || falls.holds(order, a, b))) {
      largest = std::abs(a - b);
      best = Cogging{order, std::abs(a), std::abs(b), place->dwell.speed, s.place.dwell.speed};
    }
  }
  return best;
}

} // namespace whirler::tach
