#include "log_filter.hpp"

#include "stored_coats.hpp"

namespace whirler::cli {
namespace {

CLI::Option* add_date(CLI::App& command, const std::string& name,
                      std::optional<notebook::Instant>& into, const std::string& help) {
  return command
      .add_option_function<std::string>(
          name,
          [&into, name](const std::string& text) {
            into = from_local_time(text);
            if (!into)
              throw CLI::ValidationError(name, "'" + text +
                                                   "' is no date; write 2024-05-01 or "
                                                   "\"2024-05-01 09:30\"");
          },
          help)
      ->type_name("DATE");
}

} // namespace

std::vector<CLI::Option*> add_filter_options(CLI::App& command, notebook::Filter& filter) {
  return {command.add_option("--resist", filter.resist, "Only resists with this in their name"),
          command.add_option("--board", filter.board, "Only boards with this in their name"),
          command.add_option("--verdict", filter.verdict, "Only this verdict of the jitter")
              ->check(CLI::IsMember({"even", "watch", "stop", "cannot_tell"})),
          add_date(command, "--since", filter.from, "Started on this day or later"),
          add_date(command, "--before", filter.until, "Started before this day"),
          command.add_option("--last", filter.most, "Only the newest so many")
              ->check(CLI::PositiveNumber)};
}

} // namespace whirler::cli
