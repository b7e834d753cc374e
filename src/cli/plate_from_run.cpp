#include "plate_from_run.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

Result<tach::UnbalanceFigure> unbalance_of(const JitterInput& input) {
  const std::string next =
      "record it with an index mark and three marks or more, from slow through "
      "the mount's natural speed or against a baseline, and have mount and "
      "masses in the machine file";
  if (input.no_tach)
    return input_fault("its machine has no tach", input.source, next);
  const auto analysis = tach::analyse(input.recording);
  if (!analysis)
    return analysis.fault();
  const auto& unbalance = analysis->unbalance;
  if (!unbalance || !unbalance->heavy_side || !(unbalance->low > Unbalance{}))
    return input_fault("the run does not tell an unbalance with its angle", input.source, next);
  return *unbalance;
}

/// The undrilled plate's balance point less what the unbalance says.
blank::Point place_of(const tach::UnbalanceFigure& unbalance, const Plate& plate) {
  const blank::Properties& p = *plate.properties;
  const Angle heavy = blank::on_plate(*unbalance.heavy_side, plate.mounting);
  const double off_m = unbalance.estimate.kg_m() / p.undrilled_mass.kg();
  return {p.axis.x - p.hole_off.x - metres(off_m * std::cos(heavy.rad())),
          p.axis.y - p.hole_off.y - metres(off_m * std::sin(heavy.rad()))};
}

} // namespace

std::optional<Result<HoleFromRun>> hole_from_run(FileLoader& files, const std::string& notebook,
                                                 const JitterWords& words, const Plate& plate) {
  using Answer = std::optional<Result<HoleFromRun>>;
  if (!plate.machine)
    return Answer(input_fault("no machine is named, so which way the rotor turns is not known",
                              "--machine", "name the machine that ran it"));
  const auto input = load_jitter(files, notebook, words);
  if (!input)
    return std::nullopt;
  if (!input->ok())
    return Answer(input->fault());
  const auto unbalance = unbalance_of(input->value());
  if (!unbalance)
    return Answer(unbalance.fault());
  HoleFromRun out{*plate.blank, {}, input->value().source, {}};
  out.blank.hole.at = place_of(*unbalance, plate);
  out.blank.edges.reset();
  const auto properties = blank::properties(out.blank);
  if (!properties) {
    Fault fault = properties.fault();
    fault.where = out.source;
    return Answer(fault);
  }
  out.properties = *properties;
  const Unbalance open = unbalance->high - unbalance->low;
  out.uncertainty = metres(0.5 * open.kg_m() / properties->undrilled_mass.kg());
  return Answer(std::move(out));
}

} // namespace whirler::cli
