#include "coat_page.hpp"

#include "coat_film.hpp"
#include "coat_jitter.hpp"
#include "coat_notes.hpp"
#include "stored_coats.hpp"
#include "unit_texts.hpp"
#include "whirler/balance/cures.hpp"
#include "whirler/blank/air.hpp"
#include "whirler/blank/direction.hpp"
#include "whirler/report/coat_charts.hpp"
#include "whirler/report/plate_drawing.hpp"
#include "whirler/run/state_machine.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

using report::Fact;
using report::Headline;
using report::Section;
using report::Tone;

std::string rpm_text(Speed speed) { return number_text(speed.rpm(), 4) + " rpm"; }
void add(std::vector<Fact>& facts, const std::string& name, const std::string& value) {
  if (!value.empty())
    facts.push_back({name, value});
}

/// An outcome's word as people say it.
std::string spoken(std::string word) {
  std::replace(word.begin(), word.end(), '_', ' ');
  return word;
}

Headline run_headline(const notebook::Coat& coat) {
  if (!coat.end)
    return {Tone::stop, "Run",
            coat.state == notebook::CoatState::running ? "still runs" : "broken off",
            coat.state == notebook::CoatState::running
                ? "This is what was recorded so far."
                : "The program that recorded it died. What is here is complete up to its last "
                  "second."};
  if (run::ending_from_word(coat.end->outcome) == run::Ending::completed)
    return {Tone::good, "Run", "completed", coat.end->cause};
  return {Tone::stop, "Run", "ended early: " + spoken(coat.end->outcome), coat.end->cause};
}

std::vector<std::string> cautions_of(const notebook::Coat& coat, const CoatReading& reading) {
  std::vector<std::string> cautions = coat.start.cautions;
  if (coat.start.simulated)
    cautions.insert(cautions.begin(), "this was a simulation; nothing turned");
  if (reading.film)
    for (const std::string& caution : reading.film->cautions)
      if (std::find(cautions.begin(), cautions.end(), caution) == cautions.end())
        cautions.push_back(caution);
  return cautions;
}

Section run_section(const notebook::Coat& coat, const CoatReading& reading) {
  Section section{"The run", {}, {}, {}};
  add(section.facts, "Profile", coat.start.profile);
  add(section.facts, "Machine", coat.start.machine);
  add(section.facts, "Driver", coat.start.driver);
  if (!reading.run.empty()) {
    add(section.facts, "Highest speed", rpm_text(reading.top_speed()));
    add(section.facts, "Recorded", s_text(reading.run.back().at - reading.run.front().at));
  }
  if (coat.end)
    add(section.facts, "From start to rest", s_text(coat.end->length));
  add(section.facts, "Pulses", std::to_string(coat.pulses.size()));
  if (reading.run.size() > 1) {
    std::optional<Speed> limit;
    if (reading.machine)
      limit = reading.machine->limits.speed;
    section.drawings.push_back(draw(report::speed_chart({reading.asked, reading.run, limit})));
  }
  return section;
}

Section events_section(const notebook::Coat& coat) {
  Section section{"What happened", {}, {}, {}};
  for (const notebook::Event& event : coat.events)
    section.facts.push_back({seconds_text(event.at), event.text});
  return section;
}

/// What people and later steps wrote to the coat.
Section notes_section(const notebook::Coat& coat) {
  Section section{"Notes", {}, {}, {}};
  for (const notebook::Note& note : coat.notes)
    if (note.kind != kPourNote && note.kind != kRoomNote) // both stand with the film
      section.facts.push_back({note.kind, note_text(note)});
  return section;
}

std::optional<Section> plate_section(const CoatReading& reading) {
  if (!reading.plate)
    return std::nullopt;
  const blank::Properties& plate = *reading.plate;
  const Speed top = reading.top_speed();
  Section section{"The plate", {}, {}, {}};
  add(section.facts, "Blank", reading.blank->name);
  add(section.facts, "Mass", number_text(plate.mass.g()) + " g");
  add(section.facts, "Unbalance by its drawing", number_text(plate.unbalance.g_mm()) + " g mm");
  add(section.facts, "Centre of mass", mm_text(plate.offset.size()) + " off the axis");
  add(section.facts, "Pull at the highest speed",
      number_text(blank::unbalance_force(plate.unbalance, top).N()) + " N");
  add(section.facts, "Energy", number_text(blank::energy(plate, top).J()) + " J");
  add(section.facts, "Farthest point",
      number_text(blank::corner_speed(plate, top).m_per_s()) + " m/s");
  std::optional<Speed> shown;
  if (top.rpm() > 0.0)
    shown = top;
  section.drawings.push_back(
      draw(report::PlateDrawing{*reading.blank, plate, shown, std::nullopt}));
  return section;
}

std::string below_title(const notebook::Coat& coat) {
  // To the minute. UTC, so that the page is the same wherever it is made.
  const std::string started = notebook::instant_text(coat.start.started);
  std::string text = started.substr(0, 10) + ' ' + started.substr(11, 5) + " UTC";
  if (!coat.start.board.empty())
    text += ", board " + coat.start.board;
  if (!coat.start.side.empty())
    text += ", side " + coat.start.side;
  return text;
}

template <class T>
void push(std::vector<T>& list, std::optional<T> item) {
  if (item)
    list.push_back(std::move(*item));
}

} // namespace

report::Page coat_page(const notebook::Coat& coat) {
  const CoatReading reading = read_coat(coat);
  report::Page page;
  page.title = "Coat " + std::to_string(coat.number);
  page.below_title = below_title(coat);
  page.headlines = {run_headline(coat), vibration_headline(coat, reading)};
  push(page.headlines, film_headline(coat, reading));
  page.cautions = cautions_of(coat, reading);
  page.sections.push_back(run_section(coat, reading));
  push(page.sections, film_section(reading));
  push(page.sections, pours_section(coat, reading));
  push(page.sections, vibration_section(reading));
  push(page.sections, plate_section(reading));
  if (Section notes = notes_section(coat); !notes.facts.empty())
    page.sections.push_back(std::move(notes));
  if (!coat.events.empty())
    page.sections.push_back(events_section(coat));
  if (!reading.notes.empty())
    page.sections.push_back({"Not readable", reading.notes, {}, {}});
  page.foot = "Coat " + coat.uid + ". Worked out from the record alone.";
  return page;
}

} // namespace whirler::cli
