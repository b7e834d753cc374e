#include "board_weighings.hpp"
#include "coat_notes.hpp"
#include "commands.hpp"
#include "log_filter.hpp"
#include "lying.hpp"
#include "pour_record.hpp"
#include "run_job.hpp"
#include "stored_coats.hpp"
#include "text_table.hpp"
#include "timeline_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <utility>
#include <vector>

namespace whirler::cli {
namespace {

using notebook::Coat;

constexpr const char* kShowExamples =
    "Examples:\n"
    "  whirler show                       the newest coat\n"
    "  whirler show 12                    coat 12: plan, speed as it ran, events, end\n"
    "  whirler show 12 --file machine     the machine file as it was that day";

struct ShowWords {
  std::optional<std::int64_t> number;
  std::string file;
};

SpeedCurve curve_of(const Coat& coat) {
  SpeedCurve curve;
  for (const notebook::Sample& sample : coat.samples)
    curve.push_back({sample.at, sample.speed});
  return curve;
}

Speed top_speed(const Coat& coat) {
  Speed top;
  for (const notebook::Sample& sample : coat.samples)
    top = std::max(top, sample.speed);
  return top;
}

std::uint64_t lost(const Coat& coat) {
  std::uint64_t sum = 0;
  for (const notebook::Gap& gap : coat.gaps)
    sum += gap.lost;
  return sum;
}

/// How long the record is: to rest where the coat ended, else to the last that was written.
Duration length(const Coat& coat) {
  if (coat.end)
    return coat.end->length;
  Duration last;
  if (!coat.samples.empty())
    last = coat.samples.back().at;
  return coat.events.empty() ? last : std::max(last, coat.events.back().at);
}

std::string ended_text(const Coat& coat) {
  if (!coat.end)
    return coat.state == notebook::CoatState::running ? "running now" : "broken off";
  return coat.end->outcome + (coat.end->cause.empty() ? "" : ": " + coat.end->cause);
}

std::string files_text(const Coat& coat) {
  std::string text;
  for (const notebook::KeptFile& file : coat.start.files)
    text += (text.empty() ? "" : ", ") + file.role + " " + file.name;
  return text;
}

std::string wanted_text(const ThicknessNotes& notes) {
  return notes.wanted ? number_text(notes.wanted->um()) + " um" : "";
}

std::string lying_text(const Coat& coat) {
  const auto lying = lying_for(coat, wall_clock());
  return lying ? "for " + age_text(*lying) : "";
}

using Facts = std::vector<std::pair<std::string, std::string>>; ///< name and value

Facts facts(const Coat& coat, const std::vector<Weighing>& weighings) {
  const auto& start = coat.start;
  const ThicknessNotes thickness = thickness_notes(coat.notes);
  const std::string measured = measured_text(thickness);
  Facts rows{
      {"coat", std::to_string(coat.number) + (start.simulated ? " (simulated)" : "")},
      {"ended", ended_text(coat)},
      {"started", local_time(start.started)},
      {"board", start.board},
      {"side", start.side},
      {"blank", start.blank},
      {"resist", start.resist},
      {"profile", start.profile},
      {"machine", start.machine},
      {"driver", start.driver},
      {"files", files_text(coat)},
      {"length", number_text(length(coat).s(), 4) + " s"},
      {"top speed", number_text(top_speed(coat).rpm(), 4) + " rpm"},
      {"pulses", std::to_string(coat.pulses.size()) + ", lost " + std::to_string(lost(coat))},
      {"jitter", coat.end && !coat.end->verdict.empty() ? coat.end->verdict + ", as it ran" : ""},
      {"wanted", wanted_text(thickness)},
      {"measured", measured.empty() ? "" : measured.substr(std::string("measured ").size())},
      {"weighed", weighings_text(weighings)},
      {"lying", lying_text(coat)}};
  for (const std::string& caution : start.cautions)
    rows.emplace_back("caution", caution);
  std::erase_if(rows, [](const auto& row) { return row.second.empty(); });
  return rows;
}

void say_coat(const Context& context, const Coat& coat, const std::vector<Weighing>& weighings) {
  TextTable table;
  for (const auto& [name, value] : facts(coat, weighings))
    table.row({name, value});
  context.say(table.aligned());
  for (const std::string& line : drawing(curve_of(coat)))
    context.say(line);
  TextTable notes; // a remark of several lines stays on one
  for (const notebook::Note& note : coat.notes)
    notes.row({note.kind + ":", note_text(note)});
  if (!notes.empty())
    context.say(notes.aligned());
  TextTable events;
  for (const notebook::Event& event : coat.events)
    events.row({seconds_text(event.at), event.text});
  if (!events.empty())
    context.say(events.aligned());
}

Json end_json(const Coat& coat) {
  if (!coat.end)
    return nullptr;
  Json summary = Json::parse(coat.end->summary, nullptr, false);
  if (summary.is_discarded())
    summary = coat.end->summary;
  return {{"outcome", coat.end->outcome},
          {"cause", coat.end->cause},
          {"verdict", coat.end->verdict},
          {"summary", std::move(summary)}};
}

Json files_json(const Coat& coat) {
  Json files = Json::array();
  for (const notebook::KeptFile& file : coat.start.files)
    files.push_back({{"role", file.role}, {"name", file.name}});
  return files;
}

Json events_json(const Coat& coat) {
  Json events = Json::array();
  for (const notebook::Event& event : coat.events)
    events.push_back({{"t_s", rounded(event.at.s())}, {"text", event.text}});
  return events;
}

Json notes_json(const Coat& coat) {
  Json notes = Json::array();
  for (const notebook::Note& note : coat.notes) {
    Json document = Json::parse(note.document, nullptr, false);
    if (document.is_discarded())
      document = note.document;
    notes.push_back({{"at", notebook::instant_text(note.at)},
                     {"kind", note.kind},
                     {"document", std::move(document)}});
  }
  return notes;
}

Json as_json(const Coat& coat, const std::vector<Weighing>& weighings) {
  const auto& start = coat.start;
  const ThicknessNotes thickness = thickness_notes(coat.notes);
  const Fate fate = fate_of(coat.notes);
  const auto lying = lying_for(coat, wall_clock());
  return {{"coat", coat.number},
          {"uid", coat.uid},
          {"state", notebook::state_word(coat.state)},
          {"started", notebook::instant_text(start.started)},
          {"board", start.board},
          {"side", start.side},
          {"profile", start.profile},
          {"machine", start.machine},
          {"resist", start.resist},
          {"blank", start.blank},
          {"simulated", start.simulated},
          {"driver", start.driver},
          {"marks_per_turn", start.marks_per_turn},
          {"cautions", start.cautions},
          {"files", files_json(coat)},
          {"length_s", rounded(length(coat).s())},
          {"top_speed_rpm", rounded(top_speed(coat).rpm())},
          {"pulses", coat.pulses.size()},
          {"pulses_lost", lost(coat)},
          {"samples", coat.samples.size()},
          {"wanted_um", thickness.wanted ? rounded(thickness.wanted->um()) : Json(nullptr)},
          {"measured_um", thickness.measured ? rounded(thickness.measured->um()) : Json(nullptr)},
          {"weighings", to_json(weighings)},
          {"fate", fate == Fate::lies ? Json(nullptr) : Json(fate_kind(fate))},
          {"lying_s", lying ? rounded(lying->s()) : Json(nullptr)},
          {"events", events_json(coat)},
          {"notes", notes_json(coat)},
          {"end", end_json(coat)}};
}

int show_file(const Context& context, const Coat& coat, const std::string& role) {
  for (const notebook::KeptFile& file : coat.start.files)
    if (file.role == role) {
      context.answer({{"role", file.role}, {"name", file.name}, {"text", file.text}});
      if (!context.json)
        std::cout << file.text;
      return kDone;
    }
  const std::string kept = files_text(coat);
  return context.fail(
      input_fault("coat " + std::to_string(coat.number) + " was run without a " + role + " file",
                  "", kept.empty() ? "it kept no files" : "it kept: " + kept));
}

/// What its board weighed before and after; none where the notebook cannot be read once more.
std::vector<Weighing> weighings_around(const Context& context, const Coat& coat) {
  auto notebook = look_into_notebook(context);
  if (!notebook || !*notebook)
    return {};
  return weighings_about(coat.start.started,
                         weighings_of(**notebook, coat.start.board, coat.start.simulated));
}

int show_coat(const Context& context, const ShowWords& words) {
  const auto coat = stored_coat(context, words.number);
  if (!coat)
    return context.fail(coat.fault());
  if (!words.file.empty())
    return show_file(context, *coat, words.file);
  const auto weighings = weighings_around(context, *coat);
  say_coat(context, *coat, weighings);
  context.answer(as_json(*coat, weighings));
  return kDone;
}

} // namespace

void add_show(CLI::App& program, Context& context) {
  auto words = std::make_shared<ShowWords>();
  CLI::App* command =
      program.add_subcommand("show", "One coat of the notebook")->footer(kShowExamples);
  command
      ->add_option("COAT", words->number, "Its number in the log; the newest where none is given")
      ->check(from_one());
  command->add_option("--file", words->file, "Only this file as it was: profile, machine, …")
      ->type_name("ROLE");
  command->callback([&context, words] {
    context.work = [&context, words] { return show_coat(context, *words); };
  });
}

} // namespace whirler::cli
