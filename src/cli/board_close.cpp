#include "board_close.hpp"

#include "board_films.hpp"
#include "film_agreement.hpp"
#include "replace_file.hpp"
#include "whirler/exposure/working_curve.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

Density dry_density(const BoardPlan& plan) {
  const film::Resist& resist = plan.question.bottle->resist;
  return resist.dries() ? resist.solids_density : resist.density;
}

const film::Estimate& planned_film(const BoardPlan& plan) {
  return plan.answer ? plan.answer->choice.estimate : plan.by_profile->film;
}

} // namespace

Result<Length> film_by_weight(const Weighed& weighed, const BoardPlan& plan,
                              std::span<const SideStory> sides) {
  const auto coated = std::count_if(sides.begin(), sides.end(), [](const SideStory& side) {
    return side.state == SideState::coated;
  });
  if (coated == 0)
    return input_fault("no side is coated", plan.board.name, "weigh it when one is");
  const Area area = static_cast<double>(coated) * plan.question.plate.properties->area;
  return film::weighed_thickness(weighed.before, weighed.after, area, dry_density(plan));
}

std::optional<Mass> film_mass(const BoardPlan& plan, std::size_t sides) {
  const Length film = plan.board.target.value_or(planned_film(plan).thickness);
  const Mass mass =
      kilograms(static_cast<double>(sides) * film.m() * plan.question.plate.properties->area.m2() *
                dry_density(plan).kg_per_m3());
  return mass.kg() > 0.0 && mass.is_finite() ? std::optional(mass) : std::nullopt;
}

std::optional<Fault> doubt_of_plate(Mass bare, const BoardPlan& plan) {
  constexpr double kSlip = 2.0;
  const Mass plate = plan.question.plate.properties->mass;
  if (bare >= plate / kSlip && bare <= kSlip * plate)
    return std::nullopt;
  return input_fault("a bare plate of " + number_text(bare.g(), 4) +
                         " g, which by its file weighs some " + number_text(plate.g(), 2) + " g",
                     "", "check the figure and the scales");
}

std::string weight_advice(Length film, double unsure_share, const BoardPlan& plan) {
  if (!plan.board.target)
    return "";
  const Length wanted = *plan.board.target;
  const double times = film / wanted;
  const FilmRatio ratio{times * (1.0 - unsure_share), times * (1.0 + unsure_share)};
  const std::string text =
      number_text(times) + " times the " + number_text(wanted.um()) + " um wanted";
  if (ratio.agrees())
    return "as wanted: " + text;
  if (ratio.is_thinner())
    return "thinner than wanted: " + text;
  if (ratio.is_thicker())
    return "thicker than wanted: " + text;
  return "whether it is as wanted these scales cannot tell: " + text;
}

Outcome check_weighed_ahead(const Weighed& weighed, const BoardPlan& plan, std::size_t films) {
  if (films == 0)
    return Done{}; // nothing is coated, and nothing weighed after it
  std::vector<SideStory> planned(films);
  for (SideStory& side : planned)
    side.state = SideState::coated;
  const auto film = film_by_weight(weighed, plan, planned);
  if (!film)
    return film.fault();
  if (auto doubt = doubt_of(*film, planned_film(plan))) {
    doubt->what = "by the masses given ahead: " + doubt->what;
    return *doubt;
  }
  return Done{};
}

std::optional<film::Estimate> mean_estimate(std::span<const SideStory> sides) {
  film::Estimate sum;
  double coated = 0.0;
  for (const SideStory& side : sides) {
    if (side.state != SideState::coated)
      continue;
    if (!side.film)
      return std::nullopt;
    sum.thickness += side.film->film.thickness;
    sum.low += side.film->film.low;
    sum.high += side.film->film.high;
    coated += 1.0;
  }
  if (coated == 0.0)
    return std::nullopt;
  return film::Estimate{sum.thickness / coated, sum.low / coated, sum.high / coated};
}

std::optional<std::string> cannot_teach(const BoardPlan& plan, std::span<const SideStory> sides) {
  if (!plan.answer)
    return "its spin came from a profile: whirler calibrate takes the speed by hand";
  for (const SideStory& side : sides)
    if (side.pours.size() != 1)
      return side.name + " was poured more than once";
  if (!spun_alike(sides))
    return "its sides were spun at different speeds";
  return std::nullopt;
}

Speed mean_speed(std::span<const SideStory> sides) {
  Speed sum;
  double coated = 0.0;
  for (const SideStory& side : sides)
    if (side.state == SideState::coated) {
      sum += side.spun_at;
      coated += 1.0;
    }
  return coated > 0.0 ? sum / coated : sum;
}

Outcome teach(const Context& context, const BoardPlan& plan, Length film, Speed spun_at) {
  FileLoader files(context);
  auto boards = load_boards(files, plan.board.resist);
  if (!files.ok())
    return input_fault("the boards kept beside the resist cannot be read",
                       calibration_path(plan.board.resist), "whirler check says what is wrong");
  const film::Resist& resist = plan.question.bottle->resist;
  film::Board board{{spun_at, plan.run.room.temperature, std::nullopt}, film, true};
  const film::CoatPlan& coat = plan.question.plan;
  board.spin.ramp = coat.ramp;
  if (coat.spread_speed && *coat.spread_speed < board.spin.speed) {
    board.spin.spread_speed = coat.spread_speed;
    board.spin.spread_dwell = coat.spread_dwell;
  }
  if (!resist.dries())
    board.spin.dwell = plan.answer->dwell;
  boards.push_back(board);
  return replace_file(calibration_path(plan.board.resist),
                      files::write_calibration({resist.name, boards}));
}

Result<Json> exposure_for(const BoardPlan& plan, Length film) {
  if (plan.question.bottle->wedges.empty())
    return input_fault("the resist has no step wedge, and no label can stand in for one",
                       plan.board.resist, "expose a wedge and enter it: whirler exposure --help");
  if (!plan.board.lamp)
    return input_fault("the lamp's strength at the plate is not known", plan.board.name,
                       "measure it, and give lamp_mW_cm2 or --lamp");
  const auto curve = exposure::fit(plan.question.bottle->wedges);
  if (!curve)
    return curve.fault();
  const auto dose = exposure::dose_for(*curve, film);
  if (!dose)
    return dose.fault();
  const auto time = exposure::time_for(*dose, *plan.board.lamp);
  if (!time)
    return time.fault();
  return Json{{"time_s", rounded(time->value.s())},
              {"interval_s", {rounded(time->low.s()), rounded(time->high.s())}},
              {"dose_mJ_cm2", rounded(dose->value.mJ_per_cm2())},
              {"lamp_mW_cm2", rounded(plan.board.lamp->mW_per_cm2())}};
}

} // namespace whirler::cli
