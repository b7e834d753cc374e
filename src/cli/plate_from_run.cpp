#include "plate_from_run.hpp"

#include "balance_record.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

constexpr auto kRecordNext =
    "record it with an index mark and three marks or more, from slow through "
    "the mount's natural speed or against a baseline, and have mount and "
    "masses in the machine file";

bool alike(Length a, Length b) {
  constexpr Length kSame = millimetres(0.1);
  return std::abs((a - b).mm()) <= kSame.mm();
}

bool alike(const blank::Outline& a, const blank::Outline& b) {
  using namespace blank;
  if (a.index() != b.index())
    return false;
  if (const auto* r = std::get_if<Rectangle>(&a))
    return alike(r->width, std::get<Rectangle>(b).width) &&
           alike(r->height, std::get<Rectangle>(b).height);
  if (const auto* d = std::get_if<Disc>(&a))
    return alike(d->diameter, std::get<Disc>(b).diameter);
  const auto& one = std::get<Polygon>(a).corners;
  const auto& other = std::get<Polygon>(b).corners;
  bool same = one.size() == other.size();
  for (std::size_t i = 0; same && i < one.size(); ++i)
    same = alike(one[i].x, other[i].x) && alike(one[i].y, other[i].y);
  return same;
}

/// Where the hole is may differ, for that is the question; not the plate about it. Masses differ
/// by the laminate's density, which is often a guess.
bool same_plate(const blank::Blank& run, const Plate& named) {
  constexpr double kSameMass = 0.05;
  const auto properties = blank::properties(run);
  if (!properties)
    return true; // nothing to hold against it
  const double ratio = properties->undrilled_mass / named.properties->undrilled_mass;
  return alike(run.outline, named.blank->outline) && std::abs(ratio - 1.0) <= kSameMass;
}

std::string turning(machine::Direction direction) {
  return direction == machine::Direction::clockwise ? "clockwise" : "counter-clockwise";
}

/// Machine and plate that are named against those of the record.
Outcome check_record(const JitterInput& input, const Plate& plate) {
  if (!input.coat)
    return Done{};
  for (const notebook::KeptFile& file : input.coat->start.files) {
    if (file.role == "machine") {
      const auto machine = files::read_machine(file.text, file.name);
      if (machine && machine->direction != plate.machine->direction)
        return input_fault(
            "the run was on a machine that turns " + turning(machine->direction) +
                ", and the one that is named turns " + turning(plate.machine->direction),
            input.source, "name the machine that ran it (its record keeps " + file.name + ")");
    }
    if (file.role == "blank") {
      const auto blank = files::read_blank(file.text, file.name);
      if (blank && !same_plate(*blank, plate))
        return input_fault("the run was of another plate (" + file.name + ")", input.source,
                           "name that plate's file, or the coat of this one");
    }
  }
  return Done{};
}

/// What keeps the run from telling a direction, in the verdict's own words.
Outcome check_sight(const tach::Analysis& analysis, const JitterInput& input) {
  const bool sprung = input.recording.model.sensor_on == tach::SensorOn::sprung;
  const bool blind = sprung || analysis.figure.axes == tach::Axes::none ||
                     analysis.pattern_from == tach::PatternFrom::nothing;
  if (blind)
    return input_fault("the run cannot tell: " + analysis.judgement.reason, input.source,
                       analysis.judgement.add.empty() ? kRecordNext : analysis.judgement.add);
  if (analysis.run_up && analysis.run_up->against_named)
    return input_fault("the run cannot tell: " + analysis.judgement.reason, input.source,
                       "correct the mount in the machine's file, and record the run again");
  if (analysis.angle_from == tach::AngleFrom::first_pulse)
    return input_fault("without an index mark the run tells how much the plate is off, but not "
                       "towards where",
                       input.source,
                       "make one mark an index, name it in the machine's file, and "
                       "record the run again");
  return Done{};
}

/// A baseline that was asked for and takes nothing off would go unnoticed.
Outcome check_baseline(const tach::Analysis& analysis, const JitterInput& input, bool asked) {
  if (!asked || analysis.pattern_from == tach::PatternFrom::baseline)
    return Done{};
  return input_fault("the baseline takes nothing off: " + analysis.judgement.reason, input.source,
                     "record the bare hub at " + number_text(analysis.figure.speed.rpm(), 4) +
                         " rpm, or leave --baseline out");
}

/// As the run shows it; no heavy side: nothing that noise would not show as well, which is an
/// answer where masses balanced the plate, or the verdict is even.
Result<tach::UnbalanceFigure> unbalance_of(const JitterInput& input, bool with_baseline,
                                           bool balanced) {
  if (input.no_tach)
    return input_fault("its machine has no tach", input.source, kRecordNext);
  const auto analysis = tach::analyse(input.recording);
  if (!analysis) {
    Fault fault = analysis.fault();
    fault.where = input.source + ", " + fault.where;
    return fault;
  }
  for (const auto& ok :
       {check_sight(*analysis, input), check_baseline(*analysis, input, with_baseline)})
    if (!ok)
      return ok.fault();
  auto unbalance = analysis->unbalance;
  const bool even = analysis->judgement.verdict == tach::Verdict::even;
  if (unbalance && (even || balanced) && !(unbalance->low > Unbalance{})) {
    unbalance->heavy_side.reset();
    return *unbalance;
  }
  if (unbalance && unbalance->heavy_side && unbalance->low > Unbalance{})
    return *unbalance;
  return input_fault(!unbalance ? "the run does not tell an unbalance in g mm"
                                : "the run does not tell an unbalance with its angle: it is "
                                  "anything up to " +
                                      number_text(unbalance->high.g_mm()) + " g mm",
                     input.source, kRecordNext);
}

/// Off the balance point of the undrilled plate, against the heavy side.
blank::Point place_of(const balance::PlacedUnbalance& unbalance, const Plate& plate) {
  const blank::Properties& p = *plate.properties;
  const Angle heavy = blank::on_plate(unbalance.at, plate.mounting);
  const double off_m = unbalance.size.kg_m() / p.undrilled_mass.kg();
  return {p.axis.x - p.hole_off.x - metres(off_m * std::cos(heavy.rad())),
          p.axis.y - p.hole_off.y - metres(off_m * std::sin(heavy.rad()))};
}

/// The plate's own: what the run showed less the masses that were on.
balance::PlacedUnbalance of_plate(const tach::UnbalanceFigure& seen,
                                  const std::vector<balance::PlacedMass>& masses) {
  balance::PlacedUnbalance shown;
  if (seen.heavy_side)
    shown = {seen.estimate, *seen.heavy_side};
  return balance::from_kg_m(balance::to_kg_m(shown) - balance::to_kg_m(masses));
}

/// What masses put on by hand are good to in 95 of 100: weighed to a hundredth of a gram, half a
/// millimetre off in radius and a degree or two round the rim (common practice, no source).
constexpr double kPlacedTo = 0.04;

double doubt_of_masses_kg_m(const std::vector<balance::PlacedMass>& masses) {
  double square = 0.0;
  for (const balance::PlacedMass& mass : masses)
    square += std::pow(kPlacedTo * mass.mass.kg() * mass.radius.m(), 2);
  return std::sqrt(square);
}

Result<HoleFromRun> from_input(const JitterInput& input, const JitterWords& words,
                               const Plate& plate) {
  if (const auto ok = check_record(input, plate); !ok)
    return ok.fault();
  std::vector<balance::PlacedMass> masses;
  if (input.coat) {
    const auto known = masses_on(*input.coat);
    if (!known)
      return known.fault();
    masses = *known;
  }
  const auto seen = unbalance_of(input, !words.baseline.empty(), !masses.empty());
  if (!seen)
    return seen.fault();
  HoleFromRun out{*plate.blank, {}, input.source, {}};
  out.shown = seen->heavy_side || !masses.empty();
  out.taken_off = masses;
  out.blank.hole.at = place_of(of_plate(*seen, masses), plate);
  out.blank.edges.reset();
  const auto properties = blank::properties(out.blank);
  if (!properties) {
    Fault fault = properties.fault();
    fault.where = out.source;
    return fault;
  }
  out.properties = *properties;
  const double open_kg_m =
      seen->heavy_side ? 0.5 * (seen->high - seen->low).kg_m() : seen->high.kg_m();
  out.uncertainty =
      metres(std::hypot(open_kg_m, doubt_of_masses_kg_m(masses)) / properties->undrilled_mass.kg());
  out.properties.unbalance_at_most =
      out.properties.unbalance +
      kilogram_metres(out.properties.undrilled_mass.kg() * out.uncertainty.m());
  out.with_hub = words.baseline.empty();
  return out;
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
  return Answer(from_input(input->value(), words, plate));
}

} // namespace whirler::cli
