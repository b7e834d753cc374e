#include "completion_script.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

std::string joined(const std::vector<std::string>& words, const std::string& between) {
  std::string all;
  for (const std::string& word : words)
    all += (all.empty() ? "" : between) + word;
  return all;
}

/// The text in single quotes, as bash and zsh read them.
std::string shell_quoted(const std::string& text) {
  std::string made = "'";
  for (const char c : text)
    made += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return made + "'";
}

/// As fish reads them: there a backslash counts within quotes.
std::string fish_quoted(const std::string& text) {
  std::string made = "'";
  for (const char c : text)
    made += (c == '\'' || c == '\\' ? "\\" : "") + std::string(1, c);
  return made + "'";
}

/// A command's words after which nothing but a value may come, as a bash case.
std::string bash_values(const CommandWords& command) {
  std::string cases;
  for (const OptionWords& option : command.options) {
    if (option.names.empty() || option.value.empty())
      continue;
    cases += "        " + joined(option.names, "|") + ") ";
    if (!option.choices.empty())
      cases += "__whirler_words " + shell_quoted(joined(option.choices, " "));
    else
      cases += option.takes_file() ? "__whirler_files" : ":";
    cases += "; return ;;\n";
  }
  return cases.empty() ? "" : "      case $previous in\n" + cases + "      esac\n";
}

std::string bash_rest(const CommandWords& command) {
  std::vector<std::string> names;
  std::vector<std::string> words;
  bool files = false;
  for (const OptionWords& option : command.options) {
    names.insert(names.end(), option.names.begin(), option.names.end());
    if (!option.place.empty()) {
      words.insert(words.end(), option.choices.begin(), option.choices.end());
      files = files || option.takes_file();
    }
  }
  std::string made =
      "      if [[ $word == -* ]]; then __whirler_words " + shell_quoted(joined(names, " ")) + "\n";
  if (files)
    made += "      else __whirler_files\n";
  else if (!words.empty())
    made += "      else __whirler_words " + shell_quoted(joined(words, " ")) + "\n";
  return made + "      fi\n";
}

/// Brackets and colons are zsh's own within a description.
std::string zsh_text(const std::string& text) {
  std::string made;
  for (const char c : text)
    made += (c == '[' || c == ']' || c == ':' || c == '\\' ? "\\" : "") + std::string(1, c);
  return made;
}

std::string zsh_action(const OptionWords& option) {
  if (!option.choices.empty())
    return "(" + joined(option.choices, " ") + ")";
  return option.takes_file() ? "_files" : "";
}

std::string zsh_spec(const OptionWords& option, const std::string& name) {
  std::string spec = (option.repeats ? "*" : "") + name + "[" + zsh_text(option.help) + "]";
  if (!option.value.empty())
    spec += ":" + zsh_text(option.value) + ":" + zsh_action(option);
  return shell_quoted(spec);
}

std::string zsh_arguments(const CommandWords& command) {
  std::string made = "_arguments -s";
  for (const OptionWords& option : command.options) {
    for (const std::string& name : option.names)
      made += " \\\n        " + zsh_spec(option, name);
    if (!option.place.empty())
      made += " \\\n        " + shell_quoted((option.repeats ? "*:" : ":") +
                                             zsh_text(option.place) + ":" + zsh_action(option));
  }
  return made;
}

std::string fish_option(const std::string& condition, const OptionWords& option) {
  std::string made = "complete -c whirler -n " + fish_quoted(condition);
  for (const std::string& name : option.names)
    made += name.starts_with("--") ? " -l " + name.substr(2) : " -s " + name.substr(1);
  if (!option.choices.empty())
    made += " -x -a " + fish_quoted(joined(option.choices, " "));
  else if (!option.value.empty())
    made += option.takes_file() ? " -r -F" : " -x";
  return made + " -d " + fish_quoted(option.help) + "\n";
}

} // namespace

std::string bash_completion(const CommandWords& program, std::span<const CommandWords> commands) {
  std::string made =
      "# bash completion of whirler; made by: whirler completion bash\n"
      "__whirler_words() { mapfile -t COMPREPLY < <(compgen -W \"$1\" -- \"$word\"); }\n"
      "__whirler_files() {\n"
      "  compopt -o filenames 2>/dev/null\n"
      "  mapfile -t COMPREPLY < <(compgen -f -- \"$word\")\n"
      "}\n"
      "_whirler() {\n"
      "  local word=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD-1]}\n"
      "  local command='' i\n"
      "  if [[ $word == '=' ]]; then word=''\n" // "--name=" is two words to bash, and more three
      "  elif [[ $previous == '=' ]]; then previous=${COMP_WORDS[COMP_CWORD-2]}; fi\n"
      "  for ((i = 1; i < COMP_CWORD; i++)); do\n"
      "    if [[ ${COMP_WORDS[i]} != -* ]]; then command=${COMP_WORDS[i]}; break; fi\n"
      "  done\n"
      "  COMPREPLY=()\n"
      "  case $command in\n";
  std::vector<std::string> first;
  for (const CommandWords& command : commands) {
    first.push_back(command.name);
    made +=
        "    " + command.name + ")\n" + bash_values(command) + bash_rest(command) + "      ;;\n";
  }
  for (const OptionWords& option : program.options)
    first.insert(first.end(), option.names.begin(), option.names.end());
  return made + "    '') __whirler_words " + shell_quoted(joined(first, " ")) +
         " ;;\n  esac\n}\ncomplete -F _whirler whirler\n";
}

std::string zsh_completion(const CommandWords& program, std::span<const CommandWords> commands) {
  std::string made =
      "#compdef whirler\n# zsh completion of whirler; made by: whirler completion zsh\n"
      "_whirler() {\n  local -a commands\n  commands=(\n";
  for (const CommandWords& command : commands)
    made += "    " + shell_quoted(command.name + ":" + zsh_text(command.help)) + "\n";
  made += "  )\n  if (( CURRENT == 2 )); then\n    _describe command commands\n    " +
          zsh_arguments(program) +
          "\n    return\n  fi\n  local command=$words[2]\n"
          "  shift words\n  (( CURRENT-- ))\n  case $command in\n";
  for (const CommandWords& command : commands)
    made += "    " + command.name + ")\n      " + zsh_arguments(command) + "\n      ;;\n";
  return made + "  esac\n}\n"
                "if [[ $funcstack[1] == _whirler ]]; then _whirler \"$@\"; else compdef _whirler "
                "whirler; fi\n";
}

std::string fish_completion(const CommandWords& program, std::span<const CommandWords> commands) {
  std::string made = "# fish completion of whirler; made by: whirler completion fish\n";
  for (const OptionWords& option : program.options)
    made += fish_option("__fish_use_subcommand", option);
  for (const CommandWords& command : commands)
    made += "complete -c whirler -n __fish_use_subcommand -f -a " + command.name + " -d " +
            fish_quoted(command.help) + "\n";
  for (const CommandWords& command : commands) {
    const std::string condition = "__fish_seen_subcommand_from " + command.name;
    for (const OptionWords& option : command.options)
      if (!option.names.empty())
        made += fish_option(condition, option);
      else if (!option.takes_file())
        made += "complete -c whirler -n " + fish_quoted(condition) + " -f" +
                (option.choices.empty() ? "" : " -a " + fish_quoted(joined(option.choices, " "))) +
                "\n";
  }
  return made;
}

} // namespace whirler::cli
