#include "log_filter.hpp"

#include "stored_coats.hpp"

#include <charconv>
#include <cstdint>
#include <system_error>

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
  return {command.add_option("--resist", filter.resist,
                             "Only resists with this in their name, in any case"),
          command.add_option("--board", filter.board,
                             "Only boards with this in their name, in any case"),
          command.add_option("--verdict", filter.verdict, "Only this verdict of the jitter")
              ->check(CLI::IsMember({"even", "watch", "stop", "cannot_tell"})),
          add_date(command, "--since", filter.from, "Started on this day or later"),
          add_date(command, "--before", filter.until, "Started before this day"),
          command.add_option("--last", filter.most, "Only the newest so many")->check(from_one())};
}

CLI::Validator from_one() {
  return {[](std::string& text) {
            std::int64_t number = 0;
            const char* const end = text.data() + text.size();
            const auto read = std::from_chars(text.data(), end, number);
            if (read.ec == std::errc::result_out_of_range && read.ptr == end)
              return "'" + text + "' is more than there can ever be";
            return read.ec == std::errc{} && read.ptr == end && number > 0
                       ? std::string()
                       : "'" + text + "' is not a whole number from 1 on";
          },
          ""};
}

} // namespace whirler::cli
