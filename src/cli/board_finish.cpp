#include "board_close.hpp"
#include "board_job.hpp"
#include "coat_notes.hpp"
#include "film_agreement.hpp"
#include "scales.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

bool is_coated(const SideStory& side) { return side.state == SideState::coated; }

} // namespace

Outcome BoardJob::weigh(const char* when, const std::string& text,
                        const std::optional<std::string>& ahead, std::optional<Mass>& into) {
  if (words_.no_weighing && !ahead)
    return Done{};
  const bool bare = !before_;
  std::string doubted; // typed a second time it is meant
  const auto misfit = [&](const std::string& typed) -> std::optional<std::string> {
    const auto mass = read_mass(typed);
    if (!mass)
      return to_text(mass.fault());
    const auto doubt = *mass && !ahead && typed != doubted ? doubt_of_mass(**mass) : std::nullopt;
    if (!doubt)
      return std::nullopt;
    doubted = bare ? typed : ""; // no second word makes a film of what is none
    return to_text(*doubt);
  };
  const auto answer = prompter_.ask({text + ", in grams; Enter: not weighed", "", ahead}, misfit);
  if (!answer)
    return answer.fault();
  into = *read_mass(*answer);
  if (!into)
    return Done{};
  if (const auto doubt = ahead && bare ? doubt_of_plate(*into, plan_) : std::nullopt)
    context_.say("warning  " + to_text(*doubt));
  const Mass digit = digit_of_mass(*answer);
  digit_ = std::min(digit_.value_or(digit), digit);
  return notes_.keep("weighing", {{"when", when}, {"mass_g", rounded(into->g())}});
}

/// What the film will add, so that nobody reaches for scales that cannot see it.
std::string BoardJob::how_to_weigh() const {
  const std::size_t left_out = std::min(words_.cancel.size(), sides_.size());
  const auto gained = film_mass(plan_, sides_.size() - left_out);
  return "WEIGH the bare plate, clean and dry" +
         (gained ? " (the film adds some " + number_text(gained->mg(), 2) + " mg)" : "");
}

std::optional<Fault> BoardJob::doubt_of_mass(Mass mass) const {
  if (before_)
    return doubt_of_film(mass);
  auto doubt = doubt_of_plate(mass, plan_);
  if (doubt)
    doubt->next += "; typed once more it is taken";
  return doubt;
}

/// Why this mass after the work cannot be the board's.
std::optional<Fault> BoardJob::doubt_of_film(Mass after) const {
  if (!(after > *before_))
    return input_fault("coated it weighs " + number_text(after.g(), 7) +
                           " g, and bare it weighed " + number_text(before_->g(), 7) + " g",
                       "", "weigh it again, on the same scales; Enter leaves it out");
  const auto film = film_by_weight({*before_, after}, plan_, sides_);
  const auto estimate = mean_estimate(sides_);
  auto doubt = film && estimate ? doubt_of(*film, *estimate) : std::nullopt;
  if (doubt)
    doubt->next = "weigh it again; whirler note --sure keeps such a film although";
  return doubt;
}

/// What the scales say of each coated side, with the coat that lies there: the one measurement of
/// all of them together.
Outcome BoardJob::keep_film_by_weight() {
  ThicknessNotes thickness;
  thickness.measured = by_weight_;
  for (const SideStory& side : sides_)
    if (side.state == SideState::coated && !side.pours.empty())
      thickness.together.push_back(side.pours.back().coat);
  for (const SideStory& side : sides_)
    if (side.state == SideState::coated && side.coat)
      if (const auto kept = notes_.keep(kThicknessNote, thickness_document(thickness), side.coat);
          !kept)
        return kept;
  return Done{};
}

Outcome BoardJob::expose(SideStory& side) {
  if (!side.film)
    return Done{};
  const auto exposure = exposure_for(plan_, by_weight_.value_or(side.film->film.thickness));
  if (!exposure) {
    const std::string why = to_text(exposure.fault());
    if (why != no_seconds_) // a lamp or a wedge is missing for both sides: once is enough
      context_.say("LAMP no seconds: " + why);
    no_seconds_ = why;
    return Done{};
  }
  side.exposure = *exposure;
  const auto s = [](const Json& value) { return number_text(value.get<double>(), 2); };
  const Json& sure = (*exposure)["interval_s"];
  context_.say("LAMP " + side.name + ": " + s((*exposure)["time_s"]) + " s (95 %: " + s(sure[0]) +
               " to " + s(sure[1]) + " s). UV burns eyes and skin: screen it.");
  Json document = *exposure;
  document["side"] = side.name;
  document["advised"] = true;
  return notes_.keep("exposure", std::move(document), side.coat);
}

Outcome BoardJob::offer_teaching() {
  if (!by_weight_)
    return Done{};
  if (const auto why = cannot_teach(plan_, sides_)) {
    context_.say("note     this board cannot teach the resist: " + *why);
    return Done{};
  }
  constexpr double kSameFilm = 0.25; // see film_agreement.hpp
  if (unsure_share_ > kSameFilm && !words_.calibrate) {
    context_.say("note     the resist is not taught this film: the scales are too coarse for it");
    return Done{};
  }
  if (plan_.run.simulate && !words_.calibrate)
    return Done{}; // a simulated board has nothing to teach
  std::optional<std::string> ahead;
  if (words_.calibrate)
    ahead = "y";
  const auto yes = prompter_.choose(
      {"Teach the resist this film, " + number_text(by_weight_->um()) + " um? y, Enter: no", "",
       ahead},
      "y");
  if (!yes)
    return yes.fault();
  if (*yes != 'y')
    return Done{};
  const Speed spun_at = mean_speed(sides_);
  if (const auto taught = teach(context_, plan_, *by_weight_, spun_at); !taught)
    return taught;
  taught_ = true;
  return notes_.keep("calibration", {{"thickness_um", rounded(by_weight_->um())},
                                     {"speed_rpm", rounded(spun_at.rpm())},
                                     {"how", "weighed"}});
}

Outcome BoardJob::take_in_weight() {
  const auto film = film_by_weight({*before_, *after_}, plan_, sides_);
  const auto doubt = doubt_of_film(*after_);
  if (!film || doubt) {
    context_.say("warning  " + to_text(film ? *doubt : film.fault()));
    return Done{};
  }
  by_weight_ = *film;
  unsure_share_ = unsure_share(*digit_, *after_ - *before_);
  const bool two = std::count_if(sides_.begin(), sides_.end(), is_coated) > 1;
  context_.say("BY WEIGHT " + number_text(film->um()) + " um" +
               (two ? ", mean of both sides" : ""));
  if (const auto advice = weight_advice(*film, unsure_share_, plan_); !advice.empty())
    context_.say("  " + advice);
  if (const auto coarse = coarse_scales(*digit_, *after_ - *before_))
    context_.say("warning  " + *coarse);
  return keep_film_by_weight();
}

Outcome BoardJob::finish() {
  const bool coated = std::any_of(sides_.begin(), sides_.end(), is_coated);
  if (before_ && coated)
    if (const auto ok =
            weigh("after", "WEIGH it once more, dry and cool", words_.weighed_after, after_);
        !ok)
      return ok;
  if (before_ && after_)
    if (const auto kept = take_in_weight(); !kept)
      return kept;
  for (SideStory& side : sides_)
    if (const auto ok = expose(side); !ok)
      return ok;
  if (std::any_of(sides_.begin(), sides_.end(), is_wetted))
    say_after();
  return offer_teaching();
}

} // namespace whirler::cli
