#include "whirler/exposure/working_curve.hpp"

#include "student.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace whirler::exposure {
namespace {

/// One place of the curve: film of this depth stands at this dose.
struct Point {
  double log_dose; // ln of J/m2
  double depth_m;
  double log_half = 0.0; // the dose is only known to within this, either way
};

/// What one wedge shows.
struct Reading {
  std::vector<Point> partial;  // steps that kept a part of their film
  std::optional<Point> border; // between the last step short of the whole film and the first whole
};

// The usual scatter counts as this many points, so that two or three points that happen to lie on a
// line do not claim to know it exactly.
constexpr double kScatterWeight = 3.0;
constexpr double kFull = 0.98;    // of the film: this much left counts as untouched
constexpr double kEmpty = 0.02;   // and this little as washed off
constexpr double kMostLeft = 1.1; // a gauge may read a little over the film

Outcome check_wedge(const Wedge& wedge) {
  if (!(wedge.irradiance.W_per_m2() > 0.0) || !(wedge.time.s() > 0.0) || !(wedge.film.m() > 0.0))
    return input_fault("a wedge needs an irradiance, a time and a film above 0", "",
                       "measure the lamp at the plate, with the meter that you will use again");
  if (wedge.steps.empty())
    return input_fault("the wedge has no steps", "", "give each step's density and film left");
  for (const WedgeStep& step : wedge.steps)
    if (!std::isfinite(step.density) || !step.left.is_finite() || step.left.m() < 0.0 ||
        step.left > kMostLeft * wedge.film)
      return input_fault("a step of density " + number_text(step.density) + " kept " +
                             number_text(step.left.um()) + " um of a film of " +
                             number_text(wedge.film.um()) + " um",
                         "", "give what is left after development, 0 to the whole film");
  return Done{};
}

double log_dose(const Wedge& wedge, const WedgeStep& step) {
  const double full_J_m2 = wedge.irradiance.W_per_m2() * wedge.time.s();
  return std::log(full_J_m2) - step.density * std::log(10.0);
}

std::vector<WedgeStep> by_rising_dose(const Wedge& wedge) {
  std::vector<WedgeStep> steps = wedge.steps;
  std::stable_sort(steps.begin(), steps.end(),
                   [](const WedgeStep& a, const WedgeStep& b) { return a.density > b.density; });
  return steps;
}

/// More light must not leave less film, by more than the gauge can err.
Outcome check_rising(const Wedge& wedge, const std::vector<WedgeStep>& steps) {
  const Length slack = 3.0 * kGaugeShare * wedge.film;
  for (std::size_t i = 1; i < steps.size(); ++i)
    if (steps[i].density < steps[i - 1].density && steps[i].left + slack < steps[i - 1].left)
      return input_fault("the step of density " + number_text(steps[i].density) +
                             " got more light than that of " + number_text(steps[i - 1].density) +
                             " and kept less film",
                         "", "check the order of the steps; a positive resist has no such curve");
  return Done{};
}

Fault reach_further(bool all_kept) {
  return all_kept
             ? input_fault("every step kept its film", "",
                           "expose a new wedge for a quarter of the time")
             : input_fault("no step kept film", "", "expose a new wedge for four times as long");
}

Reading read_steps(const Wedge& wedge, const std::vector<WedgeStep>& steps) {
  Reading reading;
  const WedgeStep* below = nullptr;
  for (const WedgeStep& step : steps) {
    const double share = step.left / wedge.film;
    if (share < kFull) {
      if (share > kEmpty)
        reading.partial.push_back({log_dose(wedge, step), step.left.m()});
      below = &step;
    } else if (below != nullptr && !reading.border) {
      const double from = log_dose(wedge, *below);
      const double to = log_dose(wedge, step);
      reading.border = Point{0.5 * (from + to), wedge.film.m(), 0.5 * (to - from)};
    }
  }
  return reading;
}

/// Fault: the wedge is unsound, or shows neither a partly kept step nor a border.
Result<Reading> read_wedge(const Wedge& wedge) {
  if (auto sound = check_wedge(wedge); !sound)
    return sound.fault();
  const auto steps = by_rising_dose(wedge);
  if (auto rising = check_rising(wedge, steps); !rising)
    return rising.fault();
  Reading reading = read_steps(wedge, steps);
  if (reading.partial.empty() && !reading.border)
    return reach_further(steps.back().left / wedge.film >= kFull);
  return reading;
}

struct Line {
  double mean_log = 0.0;
  double mean_depth = 0.0;
  double spread = 0.0;
  double slope = 0.0;
  double squares = 0.0; // left over
};

Line line_through(std::span<const Point> points) {
  Line line;
  const double n = static_cast<double>(points.size());
  for (const Point& p : points) {
    line.mean_log += p.log_dose / n;
    line.mean_depth += p.depth_m / n;
  }
  double product = 0.0;
  for (const Point& p : points) {
    const double x = p.log_dose - line.mean_log;
    line.spread += x * x;
    product += x * (p.depth_m - line.mean_depth);
  }
  line.slope = line.spread > 0.0 ? product / line.spread : 0.0;
  for (const Point& p : points) {
    const double off = p.depth_m - line.mean_depth - line.slope * (p.log_dose - line.mean_log);
    line.squares += off * off;
  }
  return line;
}

/// ln E at a depth, and half its 95 % interval (error of the mean line only).
struct LogDose {
  double middle;
  double half;
};

LogDose log_dose_at(const WorkingCurve& curve, double depth_m) {
  const double slope = curve.depth.value.m();
  const double reach = (depth_m - curve.mean_depth.m()) / slope;
  double variance = 0.0;
  if (curve.spread > 0.0)
    variance = 1.0 / static_cast<double>(curve.points) + reach * reach / curve.spread;
  return {curve.mean_log + reach, curve.student * curve.scatter_m / slope * std::sqrt(variance)};
}

Ranged<Dose> dose_range(const LogDose& log) {
  return {J_per_m2(std::exp(log.middle)), J_per_m2(std::exp(log.middle - log.half)),
          J_per_m2(std::exp(log.middle + log.half))};
}

/// One border between steps: the dose for this film, to half a step either way.
WorkingCurve border_curve(const Point& border) {
  WorkingCurve curve;
  curve.separated = false;
  curve.single_film = metres(border.depth_m);
  curve.points = 1;
  curve.mean_log = border.log_dose;
  curve.mean_depth = curve.single_film;
  curve.border_half = border.log_half;
  return curve;
}

/// Variance of a point's depth before any scatter is seen: the gauge, and a border's half step
/// (even over the step: a third of its square).
double usual_variance(std::span<const Point> points, double slope_m, double film_m) {
  double variance = kGaugeShare * film_m * kGaugeShare * film_m;
  for (const Point& p : points) {
    const double step_m = slope_m * p.log_half;
    variance += step_m * step_m / 3.0 / static_cast<double>(points.size());
  }
  return variance;
}

WorkingCurve separated_curve(std::span<const Point> points, const Line& line, double film_m) {
  const double freedom = kScatterWeight + static_cast<double>(points.size()) - 2.0;
  const double usual = usual_variance(points, line.slope, film_m);
  WorkingCurve curve;
  curve.points = points.size();
  curve.mean_depth = metres(line.mean_depth);
  curve.mean_log = line.mean_log;
  curve.spread = line.spread;
  curve.scatter_m = std::sqrt((kScatterWeight * usual + line.squares) / freedom);
  curve.student = student_95(freedom);
  const double half = curve.student * curve.scatter_m / std::sqrt(line.spread);
  curve.depth = {metres(line.slope), metres(line.slope - half), metres(line.slope + half)};
  curve.critical = dose_range(log_dose_at(curve, 0.0));
  return curve;
}

struct Gathered {
  std::vector<Point> points;  // for the line
  std::vector<Point> borders; // of all wedges
  double thickest_m = 0.0;

  /// From the shallowest place of the line to the thickest film seen whole.
  void tell_films(WorkingCurve& curve) const {
    const auto by_depth = [](const Point& a, const Point& b) { return a.depth_m < b.depth_m; };
    const auto [low, high] = std::minmax_element(points.begin(), points.end(), by_depth);
    double deepest_m = high->depth_m;
    for (const Point& border : borders)
      deepest_m = std::max(deepest_m, border.depth_m);
    curve.shallowest = metres(low->depth_m);
    curve.deepest = metres(deepest_m);
  }
};

/// Partly kept steps where a wedge has them, else its border.
Result<Gathered> gather(std::span<const Wedge> wedges) {
  Gathered all;
  for (const Wedge& wedge : wedges) {
    const auto reading = read_wedge(wedge);
    if (!reading)
      return reading.fault();
    all.points.insert(all.points.end(), reading->partial.begin(), reading->partial.end());
    if (reading->partial.empty())
      all.points.push_back(*reading->border);
    if (reading->border)
      all.borders.push_back(*reading->border);
    all.thickest_m = std::max(all.thickest_m, wedge.film.m());
  }
  return all;
}

} // namespace

Result<WorkingCurve> fit(std::span<const Wedge> wedges) {
  if (wedges.empty())
    return input_fault("no wedge was given", "", "expose a step wedge and enter what it left");
  const auto all = gather(wedges);
  if (!all)
    return all.fault();
  const Line line = line_through(all->points);
  constexpr double kOnePlace = 1e-6; // of (ln E)^2
  if (line.spread < kOnePlace && all->borders.size() == 1)
    return border_curve(all->borders[0]);
  if (line.spread < kOnePlace)
    return input_fault("one partly kept step cannot give both depth and critical dose", "",
                       "use a wedge with finer steps, or a second film of another thickness");
  WorkingCurve curve = separated_curve(all->points, line, all->thickest_m);
  all->tell_films(curve);
  if (curve.depth.low.m() > 0.0)
    return curve;
  return input_fault("the steps do not show film growing with light: depth " +
                         number_text(curve.depth.value.um()) + " um, between " +
                         number_text(curve.depth.low.um()) + " and " +
                         number_text(curve.depth.high.um()) + " um",
                     "", "measure more steps, or a second film of another thickness");
}

Result<WorkingCurve> curve_of(Length depth, Dose critical) {
  if (!(depth.m() > 0.0) || !(critical.J_per_m2() > 0.0))
    return input_fault("a depth of " + number_text(depth.um()) + " um and a critical dose of " +
                           number_text(critical.mJ_per_cm2()) + " mJ/cm2",
                       "", "give both above 0");
  WorkingCurve curve;
  curve.depth = {depth, depth, depth};
  curve.critical = {critical, critical, critical};
  curve.mean_log = std::log(critical.J_per_m2());
  return curve;
}

bool is_drawn_on(const WorkingCurve& curve, Length film) {
  constexpr double kSlack = 1.05;
  if (!curve.separated || !(curve.deepest.m() > 0.0))
    return false; // one border answers for its own film alone
  return film > kSlack * curve.deepest || kSlack * film < curve.shallowest;
}

Result<Length> cured_depth(const WorkingCurve& curve, Dose dose) {
  if (!curve.separated)
    return input_fault("one wedge border does not tell a depth", "",
                       "expose a wedge on a second film of another thickness");
  if (!(dose.J_per_m2() > 0.0))
    return input_fault("a dose of " + number_text(dose.mJ_per_cm2()) + " mJ/cm2", "",
                       "give a dose above 0");
  return std::max(metres(0.0), std::log(dose / curve.critical.value) * curve.depth.value);
}

Result<Ranged<Dose>> dose_for(const WorkingCurve& curve, Length film) {
  constexpr double kSameFilm = 0.05;
  if (!(film.m() > 0.0) || !film.is_finite())
    return input_fault("a film of " + number_text(film.um()) + " um", "",
                       "give a thickness above 0, as 20um");
  if (curve.separated)
    return dose_range(log_dose_at(curve, film.m()));
  if (std::abs(film / curve.single_film - 1.0) <= kSameFilm)
    return dose_range({curve.mean_log, curve.border_half});
  return input_fault("the wedge speaks only of its own film of " +
                         number_text(curve.single_film.um()) + " um, not of " +
                         number_text(film.um()) + " um",
                     "", "expose a wedge on a second film, best of the thickness that you want");
}

Result<Ranged<Duration>> time_for(const Ranged<Dose>& dose, Irradiance lamp) {
  if (!(lamp.W_per_m2() > 0.0) || !lamp.is_finite())
    return input_fault("a lamp of " + number_text(lamp.mW_per_cm2()) + " mW/cm2", "",
                       "measure it at the plate, as 8mW/cm2");
  constexpr Irradiance kStrongest = mW_per_cm2(100'000.0); // as in a resist's file
  if (lamp > kStrongest)
    return input_fault("a lamp of " + number_text(lamp.mW_per_cm2()) + " mW/cm2", "",
                       "check the unit: lamps for boards give 1 to 100 mW/cm2 at the plate");
  const auto time = [&](Dose d) { return seconds(d.J_per_m2() / lamp.W_per_m2()); };
  const Ranged<Duration> made{time(dose.value), time(dose.low), time(dose.high)};
  constexpr Duration kDay = seconds(86'400.0);
  if (!(made.value < kDay)) // also what is no number
    return input_fault(
        "so thick a film would lie under the lamp for more than a day", "",
        "light hardly reaches its bottom; expose thinner films, one after the other");
  return made;
}

} // namespace whirler::exposure
