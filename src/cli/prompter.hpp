// Questions at the bench. Each can be answered ahead: by a flag of its own, or by --yes, which
// gives every question its proposal. Gloves and one hand: Enter is the usual answer, a letter and
// Enter any other.
#pragma once

#include "context.hpp"

#include <functional>
#include <optional>
#include <string>

namespace whirler::cli {

struct Question {
  std::string text;
  std::string proposal{};             ///< what Enter, and --yes, stand for
  std::optional<std::string> ahead{}; ///< a flag's answer
};

class Prompter {
 public:
  explicit Prompter(bool yes) : yes_(yes) {}

  /// Fault (command_line), naming the flag: nobody is there to answer.
  [[nodiscard]] Outcome can_ask() const;
  /// The answer that `fits`, asked again until it does. Fault (ended_early): "q", Ctrl-C, or the
  /// input's end; (command_line): a flag's answer that does not fit.
  [[nodiscard]] Result<std::string>
  ask(const Question& question,
      const std::function<std::optional<std::string>(const std::string&)>& misfit) const;
  /// One of the letters in `letters`, or the proposal.
  [[nodiscard]] Result<char> choose(const Question& question, const std::string& letters) const;

 private:
  bool yes_;
};

/// Asks on a terminal; false where there is none, or anything but "yes" was typed. No flag answers.
[[nodiscard]] bool person_types_yes(const std::string& question);

} // namespace whirler::cli
