#include "prompter.hpp"

#include <csignal>
#include <iostream>
#include <poll.h>
#include <termios.h>
#include <unistd.h>

namespace whirler::cli {
namespace {

/// While it lives Ctrl-C breaks `wait` instead of ending the program. It is held back before the
/// question is shown, so that none is lost between the question and the waiting.
class CtrlCEndsWaiting {
 public:
  CtrlCEndsWaiting() {
    sigset_t held;
    sigemptyset(&held);
    sigaddset(&held, SIGINT);
    pthread_sigmask(SIG_BLOCK, &held, &mask_before_);
    struct sigaction quiet {};
    quiet.sa_handler = [](int) {};
    sigaction(SIGINT, &quiet, &before_);
  }
  ~CtrlCEndsWaiting() {
    sigaction(SIGINT, &before_, nullptr);
    pthread_sigmask(SIG_SETMASK, &mask_before_, nullptr);
  }
  CtrlCEndsWaiting(const CtrlCEndsWaiting&) = delete;
  CtrlCEndsWaiting& operator=(const CtrlCEndsWaiting&) = delete;

  /// Until a line has been typed; false at Ctrl-C. A terminal hands over a line at a time, so none
  /// stands unseen in a buffer.
  [[nodiscard]] bool wait() const {
    sigset_t open = mask_before_;
    sigdelset(&open, SIGINT);
    pollfd keys{STDIN_FILENO, POLLIN, 0};
    return ppoll(&keys, 1, nullptr, &open) > 0;
  }

 private:
  struct sigaction before_ {};
  sigset_t mask_before_{};
};

/// What was typed; none at the input's end and at Ctrl-C. What was typed before the question was
/// there is no answer to it: an Enter pressed while a run turned would start the next one.
std::optional<std::string> typed_after(const std::string& words) {
  const CtrlCEndsWaiting waiting;
  tcflush(STDIN_FILENO, TCIFLUSH);
  std::cerr << words << std::flush;
  std::string line;
  if (waiting.wait() && std::getline(std::cin, line))
    return line;
  std::cerr << '\n'; // what is said next begins a line
  return std::nullopt;
}

/// "Enter, r, q"
std::string answers_text(const std::string& proposal, const std::string& letters) {
  std::string text = proposal.empty() ? "Enter" : "Enter (" + proposal + ")";
  for (const char letter : letters)
    text += std::string(", ") + letter;
  return text + ", q";
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
    return "'" + text + "' is none of the answers: " + answers_text(question.proposal, letters);
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
