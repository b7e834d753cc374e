#include "side_story.hpp"

#include "film_agreement.hpp"
#include "jitter_answer.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {

std::string_view state_word(SideState state) {
  switch (state) {
  case SideState::coated:
    return "coated";
  case SideState::ended_early:
    return "ended early";
  case SideState::cancelled:
    return "cancelled";
  case SideState::kept:
    return "kept";
  case SideState::bare:
    break;
  }
  return "bare";
}

void SideStory::clear() {
  pours.clear();
  coat.reset();
  film.reset();
  earlier = 0;
  state = SideState::bare;
}

std::optional<SideFilm> film_alone(const CoatReading& reading) {
  if (!reading.film)
    return std::nullopt;
  return SideFilm{reading.film->film, reading.film->course.is_set};
}

Json to_json(const SideStory& story) {
  Json json{{"outcome", state_word(story.state)},
            {"coat", story.state == SideState::kept && story.coat ? Json(*story.coat) : Json()},
            {"reached", false},
            {"peak_error_rpm", nullptr},
            {"jitter", nullptr}};
  if (!story.runs.empty() && story.state != SideState::cancelled)
    json = story.runs.back();
  json["side"] = story.name;
  json["state"] = state_word(story.state);
  json["pours"] = story.pours.size();
  json["film"] = story.film ? to_json(*story.film) : Json(nullptr);
  json["exposure"] = story.exposure;
  json["runs"] = story.runs;
  return json;
}

std::vector<std::string> vibration_lines(const tach::Judgement& judged) {
  std::vector<std::string> lines{"VIBRATION " + in_capitals(judged.verdict) + ": " + judged.reason};
  switch (judged.verdict) {
  case tach::Verdict::even:
    break;
  case tach::Verdict::cannot_tell:
    if (!judged.add.empty())
      lines.push_back("  to find out: " + judged.add);
    break;
  case tach::Verdict::watch:
    lines.emplace_back("  centre the plate better before a faster run (whirler blank)");
    break;
  case tach::Verdict::stop:
    lines.emplace_back("  do not run it so again: shift the plate, or whirler balance --guided");
    break;
  }
  return lines;
}

std::string film_advice(const SideFilm& film, const std::optional<Length>& wanted, bool dries) {
  if (!film.is_set && dries)
    return "it still flows: let it spin longer, pour again, or dry it lying flat";
  if (!wanted)
    return "";
  const FilmRatio ratio = ratio_of(film.film, *wanted);
  const std::string times = number_text(ratio.low, 2) + " to " + number_text(ratio.high, 2) +
                            " times the " + number_text(wanted->um()) + " um wanted";
  if (ratio.agrees())
    return "as wanted: " + times;
  if (ratio.is_thinner())
    return "thinner than the " + number_text(wanted->um()) +
           " um wanted: wash it off and run slower, or take it as it is";
  if (ratio.is_thicker())
    return "thicker than the " + number_text(wanted->um()) +
           " um wanted: wash it off and run faster, or take it as it is";
  return "whether it is as wanted this estimate cannot tell: " + times + "; weigh or measure it";
}

} // namespace whirler::cli
