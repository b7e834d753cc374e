#include "board_close.hpp"
#include "board_job.hpp"
#include "coat_notes.hpp"
#include "film_agreement.hpp"

#include <algorithm>

namespace whirler::cli {

Outcome BoardJob::weigh(const char* when, const std::string& text,
                        const std::optional<std::string>& ahead, std::optional<Mass>& into) {
  if (words_.no_weighing && !ahead)
    return Done{};
  const auto answer = prompter_.ask({text + " Grams, Enter: not weighed", "", ahead},
                                    [&](const std::string& typed) -> std::optional<std::string> {
                                      const auto mass = read_mass(typed);
                                      if (!mass)
                                        return to_text(mass.fault());
                                      const auto doubt =
                                          *mass && !ahead ? doubt_of_film(**mass) : std::nullopt;
                                      return doubt ? std::optional(to_text(*doubt)) : std::nullopt;
                                    });
  if (!answer)
    return answer.fault();
  into = *read_mass(*answer);
  if (!into)
    return Done{};
  return notes_.keep("weighing", {{"when", when}, {"mass_g", rounded(into->g())}});
}

/// Why this mass after the work cannot be the board's; none for the bare plate's.
std::optional<Fault> BoardJob::doubt_of_film(Mass after) const {
  if (!before_)
    return std::nullopt;
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
  context_.say("LAMP " + side.name + ": " + number_text((*exposure)["time_s"].get<double>()) +
               " s. UV burns eyes and skin: screen it.");
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
  context_.say("BY WEIGHT " + number_text(film->um()) + " um, mean of what is coated");
  return keep_film_by_weight();
}

Outcome BoardJob::finish() {
  const bool coated = std::any_of(sides_.begin(), sides_.end(), [](const SideStory& side) {
    return side.state == SideState::coated;
  });
  if (before_ && coated)
    if (const auto ok =
            weigh("after", "WEIGH it once more, dry and cool.", words_.weighed_after, after_);
        !ok)
      return ok;
  if (before_ && after_)
    if (const auto kept = take_in_weight(); !kept)
      return kept;
  for (SideStory& side : sides_)
    if (const auto ok = expose(side); !ok)
      return ok;
  say_after();
  return offer_teaching();
}

} // namespace whirler::cli
