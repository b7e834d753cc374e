#include "manual_page.hpp"

#include <string_view>

namespace whirler::cli {
namespace {

/// Text as it stands: no letter of it is a request, and a hyphen can be copied as one.
std::string plain(std::string_view text) {
  std::string made;
  bool at_start = true;
  for (const char c : text) {
    if (at_start && (c == '.' || c == '\''))
      made += "\\&";
    if (c == '\\')
      made += "\\e";
    else if (c == '-')
      made += "\\-";
    else
      made += c;
    at_start = c == '\n';
  }
  return made;
}

std::string bold(std::string_view text) { return "\\fB" + plain(text) + "\\fR"; }
std::string italic(std::string_view text) { return "\\fI" + plain(text) + "\\fR"; }

/// Of this version's pages, and no build's: they are the same whenever they are made.
constexpr const char* kOfVersion = "2026-11-29";

/// Text folded at blanks, as mandoc's lint wants its source; a tag (the line behind .TP) and what
/// is kept line for line stay as they are.
std::string folded(const std::string& page) {
  constexpr std::size_t kMost = 78;
  std::string made;
  bool kept = false;
  bool tag = false;
  for (std::size_t from = 0; from < page.size();) {
    const std::size_t end = page.find('\n', from);
    std::string line = page.substr(from, end - from);
    from = end == std::string::npos ? page.size() : end + 1;
    kept = line == ".nf" || (kept && line != ".fi");
    while (!kept && !tag && line.size() > kMost && line.front() != '.') {
      const std::size_t blank = line.rfind(' ', kMost);
      if (blank == std::string::npos || blank == 0 || line[blank + 1] == '.')
        break;
      made += line.substr(0, blank) + "\n";
      line.erase(0, blank + 1);
    }
    tag = line == ".TP";
    made += line + "\n";
  }
  return made;
}

std::string heading(const std::string& name) {
  std::string title;
  for (const char c : name)
    title += c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c;
  return ".TH " + plain(title) + " 1 \"" + kOfVersion +
         "\" \"whirler " WHIRLER_VERSION "\" \"Plate whirler\"\n";
}

std::string names_of(const OptionWords& option) {
  if (option.names.empty())
    return italic(option.place);
  std::string made;
  for (const std::string& name : option.names)
    made += (made.empty() ? "" : ", ") + bold(name);
  return made + (option.value.empty() ? "" : " " + italic(option.value));
}

std::string option_text(const OptionWords& option) {
  std::string made = ".TP\n" + names_of(option) + "\n" + plain(option.help);
  if (!option.choices.empty()) {
    made += ": ";
    for (std::size_t i = 0; i < option.choices.size(); ++i)
      made += (i == 0 ? "" : ", ") + bold(option.choices[i]);
  }
  return made + (option.required ? " (required)" : "") + "\n";
}

std::string options_text(const CommandWords& command) {
  std::string made = ".SH OPTIONS\n";
  for (const bool positional : {true, false})
    for (const OptionWords& option : command.options)
      if (option.names.empty() == positional)
        made += option_text(option);
  return made;
}

/// Examples are kept line for line.
std::string footer_text(const std::string& footer) {
  std::string text;
  for (std::size_t from = 0; from < footer.size();) {
    const std::size_t end = std::min(footer.find('\n', from), footer.size());
    const std::string line = footer.substr(from, end - from);
    text += (line.empty() ? "\\&" : plain(line)) + "\n";
    from = end + 1;
  }
  return text.empty() ? "" : ".SH EXAMPLES\n.nf\n" + text + ".fi\n";
}

constexpr const char* kStatuses =
    ".SH EXIT STATUS\n"
    ".TP\n0\ndone\n"
    ".TP\n1\na fault of the program\n"
    ".TP\n2\nthe command line\n"
    ".TP\n3\na file, a value in it, a target that cannot be reached, or a question that cannot be "
    "answered\n"
    ".TP\n4\nthe drive cannot be reached, or the link was lost\n"
    ".TP\n5\nthe run ended early\n"
    ".TP\n6\nthe verdict on the vibration is stop\n";

constexpr const char* kCaution =
    ".SH CAUTION\n"
    "A spinning plate can break loose, solvent vapour burns, and the lamp harms eyes. This program "
    "is no emergency stop: only the hardware switch in the motor's supply is one. Local rules and "
    "the safety data sheets of what you pour decide.\n";

} // namespace

std::string program_page(const CommandWords& program, std::span<const CommandWords> commands) {
  std::string made = heading("whirler") + ".SH NAME\nwhirler \\- " + plain(program.help) +
                     "\n.SH SYNOPSIS\n.B whirler\n" + italic("COMMAND") + " [" + italic("OPTIONS") +
                     "]\n.SH COMMANDS\n";
  for (const CommandWords& command : commands)
    made += ".TP\n" + bold("whirler " + command.name) + "\n" + plain(command.help) + "\n";
  made += options_text(program);
  made += ".SH ENVIRONMENT\n.TP\n" + bold("WHIRLER_NOTEBOOK") +
          "\nThe notebook file, where no option names one.\n.TP\n" + bold("NO_COLOR") +
          "\nWhere set and not empty, screens have no colour.\n";
  made += std::string(kStatuses) + kCaution + ".SH SEE ALSO\n";
  for (std::size_t i = 0; i < commands.size(); ++i)
    made += ".BR " + plain("whirler-" + commands[i].name) + " (1)" +
            (i + 1 < commands.size() ? "," : "") + "\n";
  return folded(made);
}

std::string command_page(const CommandWords& command) {
  std::string made = heading("whirler-" + command.name) + ".SH NAME\n" +
                     plain("whirler-" + command.name) + " \\- " + plain(command.help) +
                     "\n.SH SYNOPSIS\n.B " + plain("whirler " + command.name) + "\n[" +
                     italic("OPTIONS") + "]";
  for (const OptionWords& option : command.options)
    if (option.names.empty())
      made += " " + std::string(option.required ? "" : "[") + italic(option.place) +
              (option.repeats ? "..." : "") + (option.required ? "" : "]");
  return folded(made + "\n" + options_text(command) + footer_text(command.footer) + kStatuses +
                ".SH SEE ALSO\n.BR whirler (1)\n");
}

} // namespace whirler::cli
