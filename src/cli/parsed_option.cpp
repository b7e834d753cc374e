#include "parsed_option.hpp"

namespace whirler::cli {

CLI::Option* add_parsed(CLI::App& command, const std::string& name, const std::string& help,
                        const std::string& form, TextReader read) {
  const auto each = [name, read = std::move(read)](const std::vector<std::string>& texts) {
    for (const std::string& text : texts)
      if (const auto fault = read(text))
        throw CLI::ValidationError(name, to_text(*fault));
  };
  return command.add_option_function<std::vector<std::string>>(name, each, help)
      ->type_name(form)
      ->allow_extra_args(false);
}

} // namespace whirler::cli
