#include "coat_film.hpp"

#include "coat_notes.hpp"
#include "whirler/report/coat_charts.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

using report::Fact;
using report::Headline;
using report::Section;
using report::Tone;

std::string um(Length length) { return number_text(length.um()) + " \u00B5m"; }

std::string range(const film::Estimate& film) {
  return um(film.thickness) + " (95 %: " + um(film.low) + " to " + um(film.high) + ")";
}

bool is_over_others(const CoatReading& reading) { return reading.pour && reading.pour->pour > 1; }

/// "1.62 µm dry, 1.1 to 2.4 µm (95 %), by the label and the speed that was run."
std::string size_text(const CoatReading& reading) {
  const film::Estimate& dry = reading.lying->film;
  std::string text =
      um(dry.thickness) + " dry, " + um(dry.low) + " to " + um(dry.high) + " (95 %), by " +
      (reading.film->model == film::Model::calibrated ? "measured boards" : "the label") +
      " and the speed that was run.";
  if (is_over_others(reading))
    text += " It is pour " + std::to_string(reading.pour->pour) +
            " on this side: the figure is the film as all of them left it.";
  return text;
}

std::string gauge_text(const ThicknessNotes& notes) {
  std::string text;
  if (notes.wanted)
    text += " Wanted: " + um(*notes.wanted) + ".";
  if (notes.measured) {
    text += " Measured: " + um(*notes.measured);
    if (!notes.together.empty())
      text += " by weight";
    if (notes.together.size() > 1)
      text += ", the mean of " + std::to_string(notes.together.size()) + " sides";
    text += ".";
  }
  return text;
}

/// What was done to the film afterwards comes before how it was.
std::optional<Headline> fate_headline(Fate fate, const std::string& sentence) {
  switch (fate) {
  case Fate::poured_over:
    return Headline{Tone::unknown, "Film", "poured over",
                    "A later pour lies over it or took it up. It was " + sentence};
  case Fate::washed_off:
    return Headline{Tone::unknown, "Film", "washed off", "It was " + sentence};
  case Fate::cancelled:
    return Headline{Tone::unknown, "Film", "side cancelled", "It was " + sentence};
  case Fate::lies:
    break;
  }
  return std::nullopt;
}

/// Where the time and solids of this spin stand beside the films under it.
void add_this_spin(Section& section, const CoatReading& reading) {
  if (!is_over_others(reading))
    return;
  section.lines.emplace_back(
      "The charts show this spin alone. A film that was wet is taken up by the pour over it; one "
      "that had set may dissolve in part, so it counts in the upper bound.");
  section.facts.push_back({"This spin alone", range(reading.film->film)});
  if (reading.pour->is_partial())
    section.lines.emplace_back("What lay there before is not in this coat's record: the figures "
                               "are those of this spin.");
}

/// This spin's, as the film over time; even where nothing in it makes it otherwise.
void add_film_over_radius(Section& section, const CoatReading& reading,
                          const film::ThinningResult& course) {
  if (!reading.plate) {
    section.lines.emplace_back("Film over the radius is not drawn: no blank was named with the "
                               "run, so how far out the film reaches is not known.");
    return;
  }
  if (!course.across_why.empty())
    section.lines.push_back("Over the radius: " + course.across_why +
                            ". The bead along the edge is not in it.");
  section.drawings.push_back(
      draw(report::radius_chart({reading.film->film, course.dry.centre, course.dry.edge,
                                 reading.plate->corner_radius, course.turbulent_from})));
}

std::string room_text(const CoatReading& reading) {
  const auto& said = reading.room.temperature;
  std::string text = number_text(said.value_or(reading.bottle->resist.viscosity_at).celsius()) +
                     " C" + (said ? ", as said at the run" : ", as the label's figures");
  if (reading.room.humidity)
    text += ", " + number_text(100.0 * *reading.room.humidity) + " % humidity";
  return text;
}

std::vector<std::string> pour_row(int number, const std::string& started,
                                  const std::optional<SideFilm>& film) {
  return {std::to_string(number), started, film ? um(film->film.thickness) : "not known",
          film ? um(film->film.low) + " to " + um(film->film.high) : "",
          film ? (film->is_set ? "set" : "wet") : ""};
}

} // namespace

std::optional<Headline> film_headline(const notebook::Coat& coat, const CoatReading& reading) {
  const ThicknessNotes notes = thickness_notes(coat.notes);
  const std::string gauge = gauge_text(notes);
  if (!reading.film) {
    if (!notes.measured)
      return std::nullopt;
    return Headline{Tone::good, "Film", "measured", gauge.substr(1)};
  }
  const std::string sentence = size_text(reading) + gauge;
  if (auto fate = fate_headline(fate_of(coat.notes), sentence))
    return fate;
  if (reading.film->course.is_set)
    return Headline{Tone::good, "Film", "set", sentence};
  return Headline{Tone::watch, "Film", "not set",
                  sentence + " It was still flowing when the plate stopped: spin longer."};
}

std::optional<Section> film_section(const CoatReading& reading) {
  if (!reading.film)
    return std::nullopt;
  const film::ThinningResult course = taught_course(*reading.film);
  const film::Estimate& dry = reading.lying->film;
  Section section{"The film", {}, {}, {}};
  auto& facts = section.facts;
  facts.push_back({"Resist", reading.bottle->resist.name});
  facts.push_back(
      {"Dry film", um(dry.thickness) + " (" + um(dry.low) + " to " + um(dry.high) + ")"});
  add_this_spin(section, reading);
  if (reading.film->factor != 1.0)
    facts.push_back({"Factor by measured boards", number_text(reading.film->factor)});
  if (course.dry.centre && course.dry.edge)
    facts.push_back({"Centre, edge", um(*course.dry.centre) + ", " + um(*course.dry.edge)});
  if (course.set_time)
    facts.push_back({"Set after", number_text(course.set_time->s()) + " s"});
  if (course.wet.mean)
    facts.push_back({"With its solvent at the end", um(*course.wet.mean)});
  facts.push_back({"Room taken as", room_text(reading)});
  section.lines.insert(section.lines.end(), reading.film->warnings.begin(),
                       reading.film->warnings.end());
  section.lines.insert(section.lines.end(), course.unseen.begin(), course.unseen.end());
  section.drawings.push_back(draw(report::film_chart(course.trace, dry)));
  add_film_over_radius(section, reading, course);
  return section;
}

std::optional<Section> pours_section(const notebook::Coat& coat, const CoatReading& reading) {
  if (!is_over_others(reading))
    return std::nullopt;
  Section section{"Pours on this side", {}, {}, {}};
  section.lines = {
      "What each spin left, dry, alone; the earlier ones as they were estimated then."};
  section.table.header = {"Pour", "Begun", "Film", "95 %", "At rest"};
  const PourRecord& record = *reading.pour;
  int number = record.pour - static_cast<int>(record.over.size());
  for (const Pour& before : record.over)
    section.table.rows.push_back(pour_row(number++, before.started, before.film));
  std::optional<SideFilm> own;
  if (reading.film)
    own = SideFilm{reading.film->film, reading.film->course.is_set};
  section.table.rows.push_back(
      pour_row(number, notebook::instant_text(coat.start.started) + " (this)", own));
  return section;
}

} // namespace whirler::cli
