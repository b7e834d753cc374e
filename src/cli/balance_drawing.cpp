// The rotor's face: what `balance` found, and what goes where.
#include "balance_answer.hpp"
#include "placed_values.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

/// The mass, or what each hole gets of it.
void draw_masses(report::PolarPlot& plot, const BalanceAnswer& answer) {
  std::vector<balance::PlacedMass> masses{answer.found->to_add};
  if (answer.shares && !answer.shares->masses.empty())
    masses = answer.shares->masses;
  for (const balance::PlacedMass& mass : masses) {
    const auto added = balance::from_kg_m(balance::to_kg_m(mass));
    plot.vectors.push_back({"add " + number_text(mass.mass.g()) + " g at " + angle_text(mass.at),
                            added.size.g_mm(), added.at, std::nullopt, report::Look::second});
  }
}

} // namespace

report::Drawing drawing(const BalanceAnswer& answer) {
  report::PolarPlot plot;
  plot.title = "Unbalance and its correction";
  plot.unit = "g mm";
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
