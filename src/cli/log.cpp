#include "commands.hpp"
#include "log_filter.hpp"
#include "lying.hpp"
#include "run_job.hpp"
#include "stored_coats.hpp"
#include "text_table.hpp"

#include <functional>
#include <iostream>
#include <memory>

namespace whirler::cli {
namespace {

using notebook::CoatLine;
using notebook::CoatState;

constexpr const char* kLogExamples =
    "Examples:\n"
    "  whirler log                                  every coat, the newest first\n"
    "  whirler log --last 10 --board gauge          the last ten boards of that name\n"
    "  whirler log --since 2024-05-01 --verdict watch\n"
    "  whirler log --csv > coats.csv                for a spreadsheet\n"
    "Times are this computer's; JSON and CSV have them in UTC. \"lying\" is since the run began, "
    "for\n"
    "a coated plate that was not washed off or poured over. The jitter is as the run itself "
    "judged\n"
    "it; `whirler report` reads the pulses anew.";

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

std::string um_text(const std::optional<Length>& film) {
  return film ? number_text(film->um()) : "";
}

std::string exact_um(const std::optional<Length>& film) {
  return film ? rounded(film->um()).dump() : "";
}

Json um_json(const std::optional<Length>& film) { return film ? rounded(film->um()) : Json(); }

/// Takes the lines of a log as they are read. Nothing keeps ten thousand of them: getting the
/// memory would take longer than all the rest.
class LogTable {
 public:
  explicit LogTable(notebook::Instant now) : now_(now) {
    constexpr std::size_t kUsualLines = 16384; // what is not filled costs nothing
    table_.reserve(kUsualLines, 11);
    table_.row({"coat", "started", "board", "side", "resist", "profile", "ended", "lying", "jitter",
                "wanted", "measured um"});
  }
  void operator()(const CoatLine& coat) {
    const auto lying = lying_for(coat, now_);
    table_.row({std::to_string(coat.number), local_time(coat.started), coat.board, coat.side,
                coat.resist, coat.profile,
                outcome_text(coat) + (coat.simulated ? " (simulated)" : ""),
                lying ? age_text(*lying) : "", coat.verdict, um_text(coat.wanted),
                um_text(coat.measured)});
    empty_ = false;
  }
  void say(std::ostream& out) const {
    if (empty_)
      out << "no coats";
    else
      table_.write_aligned(out);
    out << std::endl;
  }

 private:
  TextTable table_;
  notebook::Instant now_;
  bool empty_ = true;
};

class LogCsv {
 public:
  explicit LogCsv(notebook::Instant now) : now_(now) {
    std::cout << csv_line({"coat", "started", "board", "side", "profile", "machine", "resist",
                           "blank", "simulated", "state", "outcome", "verdict", "wanted_um",
                           "measured_um", "fate", "lying_s"});
  }
  void operator()(const CoatLine& coat) {
    const auto lying = lying_for(coat, now_);
    std::cout << csv_line(
        {std::to_string(coat.number), notebook::instant_text(coat.started), coat.board, coat.side,
         coat.profile, coat.machine, coat.resist, coat.blank, coat.simulated ? "true" : "false",
         notebook::state_word(coat.state), coat.outcome, coat.verdict, exact_um(coat.wanted),
         exact_um(coat.measured), coat.fate, lying ? rounded(lying->s()).dump() : ""});
  }

 private:
  notebook::Instant now_;
};

/// One document, each coat written as it comes. It is laid out as every other answer.
class LogJson {
 public:
  explicit LogJson(notebook::Instant now) : now_(now) {}
  void operator()(const CoatLine& coat) {
    fill(coat);
    text_ += text_.empty() ? "\n    " : ",\n    ";
    for (const char c : coat_.dump(2, ' ', false, Json::error_handler_t::replace)) {
      text_ += c;
      if (c == '\n') // a text's own is written as an escape
        text_ += "    ";
    }
  }
  void answer(std::ostream& out) const {
    out << "{\n  \"coats\": [" << text_ << (text_.empty() ? "" : "\n  ") << "]\n}\n";
  }

 private:
  void fill(const CoatLine& coat) {
    const auto lying = lying_for(coat, now_);
    coat_["coat"] = coat.number;
    coat_["started"] = notebook::instant_text(coat.started);
    coat_["board"] = coat.board;
    coat_["side"] = coat.side;
    coat_["profile"] = coat.profile;
    coat_["machine"] = coat.machine;
    coat_["resist"] = coat.resist;
    coat_["blank"] = coat.blank;
    coat_["simulated"] = coat.simulated;
    coat_["state"] = notebook::state_word(coat.state);
    coat_["outcome"] = coat.outcome;
    coat_["verdict"] = coat.verdict;
    coat_["wanted_um"] = um_json(coat.wanted);
    coat_["measured_um"] = um_json(coat.measured);
    coat_["fate"] = coat.fate.empty() ? Json() : Json(coat.fate);
    coat_["lying_s"] = lying ? rounded(lying->s()) : Json();
  }

  notebook::Instant now_;
  Json coat_; ///< of one line; its keys are those of the next
  std::string text_;
};

/// Hands every line to `take`; none where there is no notebook yet.
Outcome read_log(const Context& context, const notebook::Filter& filter,
                 const std::function<void(const CoatLine&)>& take) {
  auto notebook = look_into_notebook(context);
  if (!notebook)
    return notebook.fault();
  return *notebook ? (*notebook)->each_line(filter, take) : Outcome(Done{});
}

int show_log(const Context& context, const LogWords& words) {
  if (words.csv && context.json)
    return context.fail({FaultKind::command_line, "CSV and JSON both want stdout", "",
                         "give one of --csv and --json"});
  const notebook::Instant now = wall_clock();
  if (words.csv) {
    LogCsv csv(now);
    const Outcome read = read_log(context, words.filter, std::ref(csv));
    return read ? static_cast<int>(kDone) : context.fail(read.fault());
  }
  LogTable table(now);
  LogJson json(now);
  const Outcome read = read_log(context, words.filter, [&](const CoatLine& line) {
    table(line);
    if (context.json) // ten thousand of it take longer than all the rest
      json(line);
  });
  if (!read)
    return context.fail(read.fault());
  table.say(context.json ? std::cerr : std::cout);
  if (context.json)
    json.answer(std::cout);
  return kDone;
}

} // namespace

void add_log(CLI::App& program, Context& context) {
  auto words = std::make_shared<LogWords>();
  CLI::App* command =
      program.add_subcommand("log", "The notebook, a line a coat")->footer(kLogExamples);
  add_filter_options(*command, words->filter);
  command->add_flag("--csv", words->csv, "As CSV, with a header row");
  command->callback([&context, words] {
    context.work = [&context, words] { return show_log(context, *words); };
  });
}

} // namespace whirler::cli
