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
    "Times are this computer's; JSON and CSV have them in UTC.";

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

std::vector<std::string> table(const std::vector<CoatLine>& coats) {
  std::vector<TextRow> rows{
      {"coat", "started", "board", "side", "resist", "profile", "ended", "jitter"}};
  for (const CoatLine& coat : coats)
    rows.push_back({std::to_string(coat.number), local_time(coat.started), coat.board, coat.side,
                    coat.resist, coat.profile,
                    outcome_text(coat) + (coat.simulated ? " (simulated)" : ""), coat.verdict});
  return aligned(rows);
}

/// One text, so that ten thousand coats are not ten thousand writes.
std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines)
    text += (text.empty() ? "" : "\n") + line;
  return text;
}

std::string as_csv(const std::vector<CoatLine>& coats) {
  std::vector<TextRow> rows{{"coat", "started", "board", "side", "profile", "machine", "resist",
                             "blank", "simulated", "state", "outcome", "verdict"}};
  for (const CoatLine& coat : coats)
    rows.push_back({std::to_string(coat.number), notebook::instant_text(coat.started), coat.board,
                    coat.side, coat.profile, coat.machine, coat.resist, coat.blank,
                    coat.simulated ? "true" : "false", notebook::state_word(coat.state),
                    coat.outcome, coat.verdict});
  return csv(rows);
}

Json as_json(const CoatLine& coat) {
  return {{"coat", coat.number},         {"started", notebook::instant_text(coat.started)},
          {"board", coat.board},         {"side", coat.side},
          {"profile", coat.profile},     {"machine", coat.machine},
          {"resist", coat.resist},       {"blank", coat.blank},
          {"simulated", coat.simulated}, {"state", notebook::state_word(coat.state)},
          {"outcome", coat.outcome},     {"verdict", coat.verdict}};
}

int show_log(const Context& context, const LogWords& words) {
  auto notebook = look_into_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  std::vector<CoatLine> coats;
  if (*notebook) {
    auto found = (*notebook)->log(words.filter);
    if (!found)
      return context.fail(found.fault());
    coats = std::move(*found);
  }
  if (words.csv && !context.json) {
    std::cout << as_csv(coats);
    return kDone;
  }
  context.say(coats.empty() ? "no coats" : joined(table(coats)));
  if (!context.json) // ten thousand rows of it take longer than all the rest
    return kDone;
  Json all = Json::array();
  for (const CoatLine& coat : coats)
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
