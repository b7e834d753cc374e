#include "coat_notes.hpp"
#include "commands.hpp"
#include "log_filter.hpp"
#include "stored_coats.hpp"
#include "text_table.hpp"

#include <iostream>
#include <memory>
#include <unordered_map>

namespace whirler::cli {
namespace {

using notebook::CoatLine;
using notebook::CoatState;

constexpr const char* kExamples =
    "Examples:\n"
    "  whirler log                                  every coat, the newest first\n"
    "  whirler log --last 10 --board gauge          the last ten boards of that name\n"
    "  whirler log --since 2024-05-01 --verdict watch\n"
    "  whirler log --csv > coats.csv                for a spreadsheet\n"
    "Times are this computer's; JSON and CSV have them in UTC. The jitter is as the run itself\n"
    "judged it; `whirler report` reads the pulses anew.";

struct LogWords {
  notebook::Filter filter;
  bool csv = false;
};

std::string outcome_text(const CoatLine& line) {
  switch (line.state) {
  case CoatState::running:
    return "running now";
  case CoatState::broken_off:
    return "broken off";
  case CoatState::finished:
    break;
  }
  return line.outcome;
}

struct Film {
  std::optional<double> wanted_um;
  std::optional<double> measured_um;
};
/// What the notes say of each coat's film, by its number.
using Films = std::unordered_map<std::int64_t, Film>;

Result<Films> films_of(notebook::Notebook& notebook) {
  Films films;
  for (const auto& [key, member] :
       {std::pair{"wanted_um", &Film::wanted_um}, std::pair{"measured_um", &Film::measured_um}}) {
    const auto figures = notebook.figures(kThicknessNote, key);
    if (!figures)
      return figures.fault();
    for (const notebook::NoteFigure& figure : *figures)
      if (figure.value > 0.0) // as thickness_notes has it; the last counts
        films[figure.coat].*member = figure.value;
  }
  return films;
}

struct Log {
  std::vector<CoatLine> coats;
  Films films;

  [[nodiscard]] Film film(const CoatLine& coat) const {
    const auto found = films.find(coat.number);
    return found == films.end() ? Film{} : found->second;
  }
};

std::string um_text(const std::optional<double>& um) { return um ? number_text(*um) : ""; }

std::string exact_um(const std::optional<double>& um) { return um ? rounded(*um).dump() : ""; }

Json um_json(const std::optional<double>& um) { return um ? rounded(*um) : Json(nullptr); }

std::vector<std::string> table(const Log& log) {
  std::vector<TextRow> rows{{"coat", "started", "board", "side", "resist", "profile", "ended",
                             "jitter", "wanted", "measured um"}};
  for (const CoatLine& coat : log.coats)
    rows.push_back({std::to_string(coat.number), local_time(coat.started), coat.board, coat.side,
                    coat.resist, coat.profile,
                    outcome_text(coat) + (coat.simulated ? " (simulated)" : ""), coat.verdict,
                    um_text(log.film(coat).wanted_um), um_text(log.film(coat).measured_um)});
  return aligned(rows);
}

/// One text, so that ten thousand coats are not ten thousand writes.
std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines)
    text += (text.empty() ? "" : "\n") + line;
  return text;
}

std::string as_csv(const Log& log) {
  std::vector<TextRow> rows{{"coat", "started", "board", "side", "profile", "machine", "resist",
                             "blank", "simulated", "state", "outcome", "verdict", "wanted_um",
                             "measured_um"}};
  for (const CoatLine& coat : log.coats)
    rows.push_back({std::to_string(coat.number), notebook::instant_text(coat.started), coat.board,
                    coat.side, coat.profile, coat.machine, coat.resist, coat.blank,
                    coat.simulated ? "true" : "false", notebook::state_word(coat.state),
                    coat.outcome, coat.verdict, exact_um(log.film(coat).wanted_um),
                    exact_um(log.film(coat).measured_um)});
  return csv(rows);
}

Json as_json(const CoatLine& coat, const Film& film) {
  return {{"coat", coat.number},
          {"started", notebook::instant_text(coat.started)},
          {"board", coat.board},
          {"side", coat.side},
          {"profile", coat.profile},
          {"machine", coat.machine},
          {"resist", coat.resist},
          {"blank", coat.blank},
          {"simulated", coat.simulated},
          {"state", notebook::state_word(coat.state)},
          {"outcome", coat.outcome},
          {"verdict", coat.verdict},
          {"wanted_um", um_json(film.wanted_um)},
          {"measured_um", um_json(film.measured_um)}};
}

Result<Log> read_log(const Context& context, const notebook::Filter& filter) {
  auto notebook = look_into_notebook(context);
  if (!notebook)
    return notebook.fault();
  if (!*notebook)
    return Log{};
  auto coats = (*notebook)->log(filter);
  if (!coats)
    return coats.fault();
  auto films = films_of(**notebook);
  if (!films)
    return films.fault();
  return Log{std::move(*coats), std::move(*films)};
}

int show_log(const Context& context, const LogWords& words) {
  const auto log = read_log(context, words.filter);
  if (!log)
    return context.fail(log.fault());
  if (words.csv && !context.json) {
    std::cout << as_csv(*log);
    return kDone;
  }
  context.say(log->coats.empty() ? "no coats" : joined(table(*log)));
  if (!context.json) // ten thousand rows of it take longer than all the rest
    return kDone;
  Json all = Json::array();
  for (const CoatLine& coat : log->coats)
    all.push_back(as_json(coat, log->film(coat)));
  context.answer({{"coats", std::move(all)}});
  return kDone;
}

} // namespace

void add_log(CLI::App& program, Context& context) {
  auto words = std::make_shared<LogWords>();
  CLI::App* command =
      program.add_subcommand("log", "The notebook, a line a coat")->footer(kExamples);
  add_filter_options(*command, words->filter);
  command->add_flag("--csv", words->csv, "As CSV, with a header row");
  command->callback([&context, words] {
    context.work = [&context, words] { return show_log(context, *words); };
  });
}

} // namespace whirler::cli
