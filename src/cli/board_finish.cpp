#include "board_close.hpp"
#include "board_job.hpp"
#include "coat_notes.hpp"
#include "film_agreement.hpp"
#include "scales.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

constexpr double kSameFilm = 0.25; // see film_agreement.hpp

} // namespace

Outcome BoardJob::weigh(const char* when, const std::string& text,
                        const std::optional<std::string>& ahead, std::optional<Mass>& into) {
  if (words_.no_weighing && !ahead)
    return Done{};
  const bool bare = !before_;
  const std::string kept = bare && kept_ ? kept_->typed : "";
  std::string doubted; // typed a second time it is meant
  const auto mass_of = [&](const std::string& typed) {
    return !kept.empty() && typed == "n" ? Result(std::optional<Mass>()) : read_mass(typed);
  };
  const auto misfit = [&](const std::string& typed) -> std::optional<std::string> {
    const auto mass = mass_of(typed);
    if (!mass)
      return to_text(mass.fault());
    const bool is_meant = ahead || typed == doubted || (bare && typed == kept);
    const auto doubt = *mass && !is_meant ? doubt_of_mass(**mass) : std::nullopt;
    if (!doubt)
      return std::nullopt;
    doubted = bare ? typed : ""; // no second word makes a film of what is none
    return to_text(*doubt);
  };
  const std::string ways = kept.empty() ? "; Enter: not weighed"
                                        : "; " + kept_text() + ": Enter takes it, n: not weighed";
  const auto answer = prompter_.ask({text + ", in grams" + ways, kept, ahead}, misfit);
  if (!answer)
    return answer.fault();
  into = *mass_of(*answer);
  if (!into)
    return Done{};
  if (const auto doubt = ahead && bare ? doubt_of_plate(*into, plan_) : std::nullopt)
    context_.say("warning  " + to_text(*doubt));
  const Mass digit = digit_of_mass(*answer);
  digit_ = std::min(digit_.value_or(digit), digit);
  if (bare)
    with_ = weighed_with(*into);
  return notes_.keep(kWeighingNote,
                     weighing_document({{}, when, *into, *answer, bare ? with_ : std::nullopt},
                                       plan_.run.simulate));
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
    return input_fault("it weighs less than before: " + number_text(after.g(), 7) + " g coated, " +
                           number_text(before_->g(), 7) + " g bare",
                       "", "weigh it again, on the same scales; Enter leaves it out");
  const auto film = film_by_weight({*before_, after}, plan_, gained_);
  const auto estimate = mean_estimate(gained_);
  auto doubt = film && estimate ? doubt_of(*film, *estimate) : std::nullopt;
  if (doubt)
    doubt->next = "weigh it again; whirler note --sure keeps such a film although";
  return doubt;
}

/// What the scales say of each side that they weighed, with the coat that lies there: the one
/// measurement of all of them together.
Outcome BoardJob::keep_film_by_weight() {
  ThicknessNotes thickness;
  thickness.measured = by_weight_;
  for (const SideStory& side : gained_)
    thickness.together.push_back(side.pours.back().coat);
  for (const SideStory& side : gained_)
    if (side.coat)
      if (const auto kept = notes_.keep(kThicknessNote, thickness_document(thickness), side.coat);
          !kept)
        return kept;
  return Done{};
}

Outcome BoardJob::expose(SideStory& side) {
  if (!side.film || side.state == SideState::cancelled || side.state == SideState::bare)
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

/// Why the resist is not to learn from this board; none where it may.
std::optional<std::string> BoardJob::no_lesson() const {
  if (!by_weight_)
    return "there is no film by weight";
  if (auto why = cannot_teach(plan_, gained_))
    return why;
  if (unsure_share_ > kSameFilm && !words_.calibrate)
    return "the scales are too coarse for this film";
  if (plan_.run.simulate && !words_.calibrate)
    return "it is simulated (--calibrate teaches it all the same)";
  return std::nullopt;
}

Outcome BoardJob::offer_teaching() {
  if (const auto why = no_lesson()) {
    if (before_ || words_.calibrate)
      context_.say("note     this board cannot teach the resist: " + *why);
    return Done{};
  }
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
  const Speed spun_at = mean_speed(gained_);
  if (const auto taught = teach(context_, plan_, *by_weight_, spun_at); !taught)
    return taught;
  taught_ = true;
  return notes_.keep("calibration", {{"thickness_um", rounded(by_weight_->um())},
                                     {"speed_rpm", rounded(spun_at.rpm())},
                                     {"how", "weighed"}});
}

/// Told, and kept on a person's word alone: of twenty films one lies outside, and of slips of the
/// scales, of films that nobody counted, nearly all.
Result<bool> BoardJob::is_sure_of(Length film) {
  const auto estimate = mean_estimate(gained_);
  const double share = std::min(unsure_share_, kSameFilm); // scales may not excuse everything
  if (!estimate ||
      ((1.0 + share) * film >= estimate->low && (1.0 - share) * film <= estimate->high))
    return true;
  doubt_ = number_text(film.um()) + " um by weight is outside what the runs left, " +
           number_text(estimate->low.um()) + " to " + number_text(estimate->high.um()) +
           " um (95 %)";
  context_.say("warning  " + doubt_);
  std::optional<std::string> ahead;
  if (words_.sure)
    ahead = "yes";
  const auto answer =
      prompter_.ask({"Keep it as measured all the same? yes; Enter leaves it out", "", ahead},
                    [](const std::string& typed) -> std::optional<std::string> {
                      if (typed.empty() || typed == "yes")
                        return std::nullopt;
                      return "type yes, or Enter alone";
                    });
  if (!answer)
    return answer.fault();
  if (*answer != "yes")
    context_.say("  not kept, and not taught" + std::string(words_.yes ? ": --sure keeps it" : ""));
  return *answer == "yes";
}

Outcome BoardJob::take_in_weight() {
  const auto film = film_by_weight({*before_, *after_}, plan_, gained_);
  const auto doubt = doubt_of_film(*after_);
  if (!film || doubt) {
    context_.say("warning  " + to_text(doubt ? *doubt : film.fault()));
    return Done{};
  }
  unsure_share_ = unsure_share(*digit_, *after_ - *before_);
  context_.say("BY WEIGHT " + number_text(film->um()) + " um" +
               (gained_.size() > 1 ? ", mean of both sides" : ""));
  if (const auto advice = weight_advice(*film, unsure_share_, plan_); !advice.empty())
    context_.say("  " + advice);
  if (const auto coarse = coarse_scales(*digit_, *after_ - *before_))
    context_.say("warning  " + *coarse);
  const auto sure = is_sure_of(*film);
  if (!sure)
    return sure.fault();
  if (!*sure)
    return Done{};
  by_weight_ = *film;
  return keep_film_by_weight();
}

/// The weight that was gained is that of the films put on since the weight before, of no other.
Outcome BoardJob::weigh_after() {
  if (!before_ && words_.weighed_after)
    context_.say("warning  no film by weight: what the plate weighed before is not known");
  const auto lying = on_plate();
  if (!before_ || lying.empty())
    return Done{};
  auto gained =
      with_ ? films_gained(lying, *with_, run_.resist_name)
            : Result<std::vector<SideStory>>(input_fault(
                  "no film by weight: nobody knows which films were on the plate when it was "
                  "weighed before",
                  "", "--weighed-with or --weighed-without SIDE says so"));
  if (gained)
    gained_ = std::move(gained).value();
  else
    context_.say("warning  " + to_text(gained.fault()));
  if (gained_.empty() && !words_.weighed_after)
    return Done{};
  if (const auto ok =
          weigh("after", "WEIGH it once more, dry and cool", words_.weighed_after, after_);
      !ok)
    return ok;
  return after_ && !gained_.empty() ? take_in_weight() : Outcome(Done{});
}

Outcome BoardJob::finish() {
  if (const auto ok = ask_what_was_weighed(); !ok)
    return ok;
  if (const auto ok = weigh_after(); !ok)
    return ok;
  for (SideStory& side : sides_)
    if (const auto ok = expose(side); !ok)
      return ok;
  if (std::any_of(sides_.begin(), sides_.end(), is_wetted))
    say_after();
  return offer_teaching();
}

} // namespace whirler::cli
