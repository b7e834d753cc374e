// `whirler note`: what was wanted of a coat, and what was measured on it.
#include "coat_notes.hpp"
#include "coat_reading.hpp"
#include "commands.hpp"
#include "film_agreement.hpp"
#include "log_filter.hpp"
#include "one_line.hpp"
#include "run_job.hpp"
#include "stored_coats.hpp"
#include "text_table.hpp"

#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kNoteExamples =
    "Examples:\n"
    "  whirler note 12 --wanted 1.6um                  before or after the run\n"
    "  whirler note 12 --measured 1.58um               as the gauge reads it\n"
    "  whirler note 12 --text \"a comet at the corner\"\n"
    "A later note takes the place of an earlier one; none is thrown away. `whirler report "
    "--trend`\n"
    "draws them over the coats.";

struct NoteWords {
  std::int64_t number = 0;
  ThicknessNotes thickness;
  std::string text;
  bool sure = false;
};

std::optional<Fault> mistake_in(const NoteWords& words) {
  if (!words.thickness.wanted && !words.thickness.measured && words.text.empty())
    return Fault{FaultKind::command_line, "nothing to note", "",
                 "give --wanted, --measured or --text"};
  for (const auto& length : {words.thickness.wanted, words.thickness.measured})
    if (length && !(length->um() > 0.0))
      return Fault{FaultKind::command_line, "a thickness that is not above zero", "",
                   "give it as 1.6um"};
  for (const auto& length : {words.thickness.wanted, words.thickness.measured})
    if (length)
      if (const Outcome spun = check_spun_film(*length); !spun)
        return spun.fault();
  return std::nullopt;
}

/// Where what was measured is far from what the run left.
std::optional<Fault> doubt_in(const NoteWords& words, const notebook::Coat& coat) {
  if (!words.thickness.measured || words.sure)
    return std::nullopt;
  const auto lying = read_coat_film(coat).lying;
  auto doubt = lying ? doubt_of(*words.thickness.measured, lying->film) : std::nullopt;
  if (doubt)
    doubt->next += "; --sure keeps it although";
  return doubt;
}

std::vector<notebook::Note> notes_of(const NoteWords& words, const notebook::Coat& coat) {
  std::vector<notebook::Note> notes;
  const auto add = [&](const std::string& kind, const Json& document) {
    notes.push_back(
        {wall_clock(), kind, coat.start.board, coat.number, coat.start.resist, one_line(document)});
  };
  if (words.thickness.wanted || words.thickness.measured)
    add(kThicknessNote, thickness_document(words.thickness));
  if (!words.text.empty())
    add("remark", {{"text", words.text}});
  return notes;
}

int keep_note(const Context& context, const NoteWords& words) {
  if (const auto mistake = mistake_in(words))
    return context.fail(*mistake);
  const auto path = notebook_path(context);
  if (!path)
    return context.fail(path.fault());
  auto notebook = notebook::Notebook::open_existing(*path);
  if (!notebook)
    return context.fail(notebook.fault());
  const auto coat = notebook->coat(words.number);
  if (!coat)
    return context.fail(coat.fault());
  if (const auto doubt = doubt_in(words, *coat))
    return context.fail(*doubt);
  Json said = Json::array();
  for (const notebook::Note& note : notes_of(words, *coat)) {
    if (const Outcome kept = notebook->add_note(note); !kept)
      return context.fail(kept.fault());
    TextTable line; // a remark of several lines is said on one
    line.row({"coat " + std::to_string(words.number) + ": " + note_text(note)});
    context.say(line.aligned());
    said.push_back({{"kind", note.kind}, {"document", Json::parse(note.document)}});
  }
  context.answer({{"coat", words.number}, {"notes", said}});
  return kDone;
}

} // namespace

void add_note(CLI::App& program, Context& context) {
  auto words = std::make_shared<NoteWords>();
  CLI::App* command =
      program.add_subcommand("note", "Keeps a measurement with a coat")->footer(kNoteExamples);
  command->add_option("COAT", words->number, "Its number in the notebook")
      ->required()
      ->check(from_one());
  add_quantity<Length>(*command, "--wanted", words->thickness.wanted, "Dry film that was wanted");
  add_quantity<Length>(*command, "--measured", words->thickness.measured,
                       "Dry film that was measured");
  command->add_flag("--sure", words->sure, "Although it is far from what the run left");
  command->add_option("--text", words->text, "A remark");
  command->callback([&context, words] {
    context.work = [&context, words] { return keep_note(context, *words); };
  });
}

} // namespace whirler::cli
