#include "whirler/film/calibration.hpp"

#include "whirler/film/rule.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film {
namespace {

constexpr double kSuspectDeviations = 3.0;
constexpr std::size_t kFewestToJudge = 3;
constexpr double kScatterWeight = 4.0; // the usual scatter counts as this many boards

/// One board in logarithms: what it says above the model, and where.
struct Point {
  double excess; // ln(measured/model)
  double reach;  // ln(n/n0)
  std::size_t board;
};

struct Posterior {
  double a = 0.0;
  double b = 0.0;
  double var_a = 0.0;
  double var_b = 0.0;
  double cov = 0.0;

  [[nodiscard]] double at(double reach) const { return a - b * reach; }
  [[nodiscard]] double variance(double reach) const {
    return var_a - 2.0 * cov * reach + var_b * reach * reach;
  }
};

/// Normal prior, normal scatter: precisions add.
Posterior update(std::span<const Point> points, double prior_a, double scatter) {
  const double weight = 1.0 / (scatter * scatter);
  double p_aa = 1.0 / (prior_a * prior_a);
  double p_bb = 1.0 / (kExponentDeviation * kExponentDeviation);
  double p_ab = 0.0;
  double v_a = 0.0;
  double v_b = 0.0;
  for (const Point& p : points) {
    p_aa += weight;
    p_ab -= weight * p.reach;
    p_bb += weight * p.reach * p.reach;
    v_a += weight * p.excess;
    v_b -= weight * p.reach * p.excess;
  }
  const double det = p_aa * p_bb - p_ab * p_ab;
  Posterior result;
  result.var_a = p_bb / det;
  result.var_b = p_aa / det;
  result.cov = -p_ab / det;
  result.a = result.var_a * v_a + result.cov * v_b;
  result.b = result.cov * v_a + result.var_b * v_b;
  return result;
}

std::vector<Point> without(std::span<const Point> points, std::size_t index) {
  std::vector<Point> rest(points.begin(), points.end());
  rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(index));
  return rest;
}

/// How far a board is from what all others (and the priors) foresee, in standard deviations.
double surprise(std::span<const Point> points, std::size_t index, double prior_a) {
  const Posterior others = update(without(points, index), prior_a, kBoardDeviation);
  const Point& p = points[index];
  const double spread = std::sqrt(others.variance(p.reach) + kBoardDeviation * kBoardDeviation);
  return (p.excess - others.at(p.reach)) / spread;
}

struct Worst {
  std::size_t index = 0;
  double deviations = 0.0;
};

Worst most_surprising(std::span<const Point> points, double prior_a) {
  Worst worst;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double off = surprise(points, i, prior_a);
    if (std::abs(off) > std::abs(worst.deviations))
      worst = {i, off};
  }
  return worst;
}

std::vector<Suspect> leave_out_suspects(std::vector<Point>& points, double prior_a) {
  std::vector<Suspect> suspects;
  while (points.size() >= kFewestToJudge) {
    const Worst worst = most_surprising(points, prior_a);
    if (std::abs(worst.deviations) <= kSuspectDeviations)
      return suspects;
    suspects.push_back({points[worst.index].board, worst.deviations, true});
    points = without(points, worst.index);
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double off = surprise(points, i, prior_a);
    if (std::abs(off) > kSuspectDeviations)
      suspects.push_back({points[i].board, off, false});
  }
  return suspects;
}

/// One or two boards say nothing about scatter: what is left of them is the priors' pull.
double shown_scatter(std::span<const Point> points, const Posterior& fit) {
  if (points.size() < kFewestToJudge)
    return kBoardDeviation;
  double squares = 0.0;
  for (const Point& p : points)
    squares += (p.excess - fit.at(p.reach)) * (p.excess - fit.at(p.reach));
  const double usual = kBoardDeviation * kBoardDeviation;
  const double freedom = kScatterWeight + static_cast<double>(points.size()) - 1.0;
  return std::sqrt(std::max(usual, (kScatterWeight * usual + squares) / freedom));
}

/// Where boards were kept that contradict each other or the label, something is not as this model
/// has it, and nobody knows what: the spread grows until the contradiction is no surprise, by the
/// square root of chi squared per board (R. T. Birge, Phys. Rev. 40, 207, 1932 [from memory]).
double contradiction(std::span<const Point> points, const Posterior& fit, double prior_a,
                     double scatter) {
  double chi2 = std::pow(fit.a / prior_a, 2) + std::pow(fit.b / kExponentDeviation, 2);
  for (const Point& p : points)
    chi2 += std::pow((p.excess - fit.at(p.reach)) / scatter, 2);
  return std::max(1.0, std::sqrt(chi2 / static_cast<double>(points.size())));
}

bool any_kept(std::span<const Suspect> suspects) {
  return std::any_of(suspects.begin(), suspects.end(),
                     [](const Suspect& suspect) { return !suspect.left_out; });
}

Result<std::vector<Point>> points_of(std::span<const Board> boards, const ModelThickness& model) {
  if (boards.empty())
    return input_fault("no measured board", "", "give one, as 1.62um@3000rpm");
  std::vector<Point> points;
  for (const Board& board : boards) {
    const Speed speed = board.spin.speed;
    if (!(speed.rpm() > 0.0 && board.thickness.um() > 0.0 && speed.is_finite() &&
          board.thickness.is_finite()))
      return input_fault("a board of " + number_text(board.thickness.um()) + " um at " +
                             number_text(speed.rpm()) + " rpm",
                         "", "give a thickness and a speed above 0");
    const auto expected = model(board.spin);
    if (!expected)
      return expected.fault();
    points.push_back({std::log(board.thickness / *expected), std::log(speed.rpm()), points.size()});
  }
  return points;
}

double mean_reach(std::span<const Point> points) {
  double sum = 0.0;
  for (const Point& p : points)
    sum += p.reach;
  return sum / static_cast<double>(points.size());
}

} // namespace

double Calibration::factor() const { return std::exp(log_factor); }
double Calibration::factor_low() const {
  return std::exp(log_factor - kTwoSided95 * std::sqrt(factor_variance));
}
double Calibration::factor_high() const {
  return std::exp(log_factor + kTwoSided95 * std::sqrt(factor_variance));
}

Result<Calibration> calibrate(std::span<const Board> boards, const ModelThickness& model,
                              double label_deviation) {
  auto read = points_of(boards, model);
  if (!read)
    return read.fault();
  std::vector<Point>& points = *read;
  const double first_pivot = mean_reach(points);
  for (Point& p : points)
    p.reach -= first_pivot;
  Calibration result;
  result.suspects = leave_out_suspects(points, label_deviation);
  const double shift = mean_reach(points); // the pivot is of the boards that are used
  for (Point& p : points) {
    p.reach -= shift;
    result.fastest = std::max(result.fastest, boards[p.board].spin.speed);
  }
  const Posterior usual = update(points, label_deviation, kBoardDeviation);
  result.board_deviation = shown_scatter(points, usual);
  const Posterior fit = update(points, label_deviation, result.board_deviation);
  const double wider = any_kept(result.suspects)
                           ? contradiction(points, fit, label_deviation, result.board_deviation)
                           : 1.0;
  result.board_deviation *= wider;
  result.log_factor = fit.a;
  result.exponent_shift = fit.b;
  result.factor_variance = wider * wider * fit.var_a;
  result.shift_variance = wider * wider * fit.var_b;
  result.covariance = wider * wider * fit.cov;
  result.pivot = rpm(std::exp(first_pivot + shift));
  result.used = points.size();
  return result;
}

Estimate calibrated(const Calibration& calibration, Length model, Speed speed, bool dries) {
  const double reach = std::log(speed / calibration.pivot);
  const double middle = std::exp(calibration.log_factor - calibration.exponent_shift * reach);
  const double variance = calibration.factor_variance - 2.0 * calibration.covariance * reach +
                          calibration.shift_variance * reach * reach +
                          calibration.board_deviation * calibration.board_deviation;
  const double lean = flattening(speed, dries) / flattening(calibration.fastest, dries);
  return estimate(middle * model, std::sqrt(variance), std::max(1.0, lean));
}

Result<Length> weighed_thickness(Mass before, Mass after, Area area, Density dry) {
  if (!(before.kg() > 0.0) || !before.is_finite())
    return input_fault("the board weighed " + number_text(before.g()) + " g before coating", "",
                       "give the mass of the bare board, then of the same board, coated and dry");
  if (!(area.m2() > 0.0) || !(dry.kg_per_m3() > 0.0))
    return input_fault("an area of " + number_text(area.cm2()) + " cm2 and a dry density of " +
                           number_text(dry.g_per_cm3()) + " g/cm3",
                       "", "give both above 0");
  const Mass gained = after - before;
  if (!(gained.kg() > 0.0) || !(before.kg() > 0.0))
    return input_fault("the board gained " + number_text(gained.mg()) + " mg", "",
                       "give the mass before coating, then after drying, of the same board");
  return metres(gained.kg() / (area.m2() * dry.kg_per_m3()));
}

} // namespace whirler::film
