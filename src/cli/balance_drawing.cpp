// The rotor's face: what `balance` found, and what goes where.
#include "balance_answer.hpp"
#include "placed_values.hpp"
#include "whirler/units/text.hpp"

#include <complex>

namespace whirler::cli {
namespace {

void add_vector(report::PolarPlot& plot, const std::string& name, std::complex<double> kg_m) {
  const auto added = balance::from_kg_m(kg_m);
  plot.vectors.push_back({name, added.size.g_mm(), added.at, std::nullopt, report::Look::second});
}

/// Many arrows would be a scribble: their sum, and marks where they go.
void draw_sum(report::PolarPlot& plot, const std::vector<balance::PlacedMass>& masses) {
  std::complex<double> sum;
  Mass all;
  for (const balance::PlacedMass& mass : masses) {
    sum += balance::to_kg_m(mass);
    all = all + mass.mass;
    plot.marks.push_back({mass.at, number_text(mass.mass.g()) + " g"});
  }
  plot.marks_name = "in the holes";
  add_vector(plot,
             "add " + number_text(all.g()) + " g in " + std::to_string(masses.size()) +
                 " holes, together",
             sum);
}

/// The mass, or what each hole gets of it.
void draw_masses(report::PolarPlot& plot, const BalanceAnswer& answer) {
  constexpr std::size_t kMostArrows = 2;
  std::vector<balance::PlacedMass> masses{answer.found->to_add};
  if (answer.shares && !answer.shares->masses.empty())
    masses = answer.shares->masses;
  if (masses.size() > kMostArrows) {
    draw_sum(plot, masses);
    return;
  }
  for (const balance::PlacedMass& mass : masses)
    add_vector(plot, "add " + number_text(mass.mass.g()) + " g at " + angle_text(mass.at),
               balance::to_kg_m(mass));
}

} // namespace

report::Drawing drawing(const BalanceAnswer& answer) {
  report::PolarPlot plot;
  plot.title = "Unbalance and its correction";
  plot.unit = "g mm";
  if (answer.plate.machine)
    plot.clockwise = answer.plate.mounting.clockwise;
  if (answer.found) {
    const balance::Correction& correction = answer.found->correction;
    const balance::Spread& s = correction.spread;
    constexpr double kTo_g2mm2 = 1e12;
    const auto ellipse =
        report::ellipse_95(kTo_g2mm2 * s.xx_kg2m2, kTo_g2mm2 * s.xy_kg2m2, kTo_g2mm2 * s.yy_kg2m2);
    plot.vectors.push_back({correction.bound_95 ? "now, heavy side" : "a guess",
                            correction.unbalance.size.g_mm(), correction.unbalance.at,
                            correction.bound_95 ? std::optional(ellipse) : std::nullopt,
                            report::Look::heavy});
    if (correction.bound_95)
      draw_masses(plot, answer);
    else
      plot.title = "Repeat with a larger trial mass";
  }
  if (answer.allowed)
    plot.limits.push_back({"allowed, G " + number_text(answer.allowed->grade.mm_per_s()) + " at " +
                               number_text(answer.allowed->speed.rpm(), 5) + " rpm",
                           answer.allowed->unbalance.g_mm()});
  return draw(plot);
}

} // namespace whirler::cli
