#include "prompter.hpp"

#include <iostream>
#include <unistd.h>

namespace whirler::cli {

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
    std::cerr << question.text << ": " << std::flush;
    std::string line;
    if (!std::getline(std::cin, line) || line == "q")
      return Fault{FaultKind::ended_early, "the work was ended", "", "start it again when ready"};
    if (line.empty())
      line = question.proposal;
    const auto wrong = misfit(line);
    if (!wrong)
      return line;
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
  std::cerr << question << std::flush;
  std::string answer;
  return std::getline(std::cin, answer) && answer == "yes";
}

} // namespace whirler::cli
