#include "prompter.hpp"

#include <csignal>
#include <iostream>
#include <unistd.h>

namespace whirler::cli {
namespace {

/// While it lives Ctrl-C breaks the waiting for an answer instead of ending the program.
class CtrlCEndsWaiting {
 public:
  CtrlCEndsWaiting() {
    struct sigaction quiet {};
    quiet.sa_handler = [](int) {}; // and no SA_RESTART: the read that waits comes back
    sigaction(SIGINT, &quiet, &before_);
  }
  ~CtrlCEndsWaiting() { sigaction(SIGINT, &before_, nullptr); }
  CtrlCEndsWaiting(const CtrlCEndsWaiting&) = delete;
  CtrlCEndsWaiting& operator=(const CtrlCEndsWaiting&) = delete;

 private:
  struct sigaction before_ {};
};

/// What was typed; none at the input's end and at Ctrl-C, after which no question has an answer.
std::optional<std::string> typed_after(const std::string& words) {
  std::cerr << words << std::flush;
  const CtrlCEndsWaiting waiting;
  std::string line;
  if (std::getline(std::cin, line))
    return line;
  std::cerr << '\n'; // what is said next begins a line
  return std::nullopt;
}

} // namespace

Outcome Prompter::can_ask() const {
  if (yes_ || isatty(STDIN_FILENO) == 1)
    return Done{};
  return Fault{FaultKind::command_line, "nobody is there to answer: no terminal", "",
               "add --yes to answer every question with its proposal"};
}

Result<std::string>
Prompter::ask(const Question& question,
              const std::function<std::optional<std::string>(const std::string&)>& misfit) const {
  if (question.ahead || yes_) {
    const std::string answer = question.ahead.value_or(question.proposal);
    std::cerr << question.text << ": " << answer << '\n';
    if (const auto wrong = misfit(answer))
      return Fault{FaultKind::command_line, *wrong, "", "give another answer ahead"};
    return answer;
  }
  for (;;) {
    auto line = typed_after(question.text + ": ");
    if (!line || *line == "q")
      return Fault{FaultKind::ended_early, "the work was ended", "", "start it again when ready"};
    if (line->empty())
      line = question.proposal;
    const auto wrong = misfit(*line);
    if (!wrong)
      return *line;
    std::cerr << *wrong << '\n';
  }
}

Result<char> Prompter::choose(const Question& question, const std::string& letters) const {
  const auto answer = ask(question, [&](const std::string& text) -> std::optional<std::string> {
    if (text == question.proposal ||
        (text.size() == 1 && letters.find(text.front()) != std::string::npos))
      return std::nullopt;
    return "'" + text + "' is none of the answers";
  });
  if (!answer)
    return answer.fault();
  return answer->empty() ? '\n' : answer->front();
}

bool person_types_yes(const std::string& question) {
  if (isatty(STDIN_FILENO) == 0)
    return false;
  return typed_after(question) == "yes";
}

} // namespace whirler::cli
