#include "commands.hpp"
#include "log_filter.hpp"
#include "stored_coats.hpp"
#include "text_table.hpp"

#include <iostream>
#include <memory>

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

using Log = std::vector<CoatLine>;

std::string um_text(const std::optional<Length>& film) {
  return film ? number_text(film->um()) : "";
}

std::string exact_um(const std::optional<Length>& film) {
  return film ? rounded(film->um()).dump() : "";
}

Json um_json(const std::optional<Length>& film) { return film ? rounded(film->um()) : Json(); }

std::string table(const Log& log) {
  TextTable table;
  table.reserve(log.size() + 1, 10);
  table.row({"coat", "started", "board", "side", "resist", "profile", "ended", "jitter", "wanted",
             "measured um"});
  for (const CoatLine& coat : log)
    table.row({std::to_string(coat.number), local_time(coat.started), coat.board, coat.side,
               coat.resist, coat.profile,
               outcome_text(coat) + (coat.simulated ? " (simulated)" : ""), coat.verdict,
               um_text(coat.wanted), um_text(coat.measured)});
  return table.aligned();
}

std::string as_csv(const Log& log) {
  TextTable table;
  table.row({"coat", "started", "board", "side", "profile", "machine", "resist", "blank",
             "simulated", "state", "outcome", "verdict", "wanted_um", "measured_um"});
  for (const CoatLine& coat : log)
    table.row({std::to_string(coat.number), notebook::instant_text(coat.started), coat.board,
               coat.side, coat.profile, coat.machine, coat.resist, coat.blank,
               coat.simulated ? "true" : "false", notebook::state_word(coat.state), coat.outcome,
               coat.verdict, exact_um(coat.wanted), exact_um(coat.measured)});
  return table.csv();
}

Json as_json(const CoatLine& coat) {
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
          {"wanted_um", um_json(coat.wanted)},
          {"measured_um", um_json(coat.measured)}};
}

Result<Log> read_log(const Context& context, const notebook::Filter& filter) {
  auto notebook = look_into_notebook(context);
  if (!notebook)
    return notebook.fault();
  return *notebook ? (*notebook)->log(filter) : Log{};
}

int show_log(const Context& context, const LogWords& words) {
  if (words.csv && context.json)
    return context.fail({FaultKind::command_line, "CSV and JSON both want stdout", "",
                         "give one of --csv and --json"});
  const auto log = read_log(context, words.filter);
  if (!log)
    return context.fail(log.fault());
  if (words.csv) {
    std::cout << as_csv(*log);
    return kDone;
  }
  context.say(log->empty() ? "no coats" : table(*log));
  if (!context.json) // ten thousand rows of it take longer than all the rest
    return kDone;
  Json all = Json::array();
  for (const CoatLine& coat : *log)
    all.push_back(as_json(coat));
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
