// Options whose text has a form of its own: "1.62um@3000rpm", "24.000g,24.096g". A text that does
// not fit ends the program with status 2 and says what would.
#pragma once

#include "context.hpp"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace whirler::cli {

/// Options that do not go together, or say nothing.
[[nodiscard]] inline Fault command_line_fault(std::string what, std::string next) {
  return {FaultKind::command_line, std::move(what), "", std::move(next)};
}

/// Reads one text; the fault where it does not fit.
using TextReader = std::function<std::optional<Fault>(std::string_view)>;

/// The value to `take`, or its fault.
template <class T, class Take>
std::optional<Fault> keep(const Result<T>& read, Take&& take) {
  if (!read)
    return read.fault();
  std::forward<Take>(take)(*read);
  return std::nullopt;
}

/// May be given again; `read` sees each text.
CLI::Option* add_parsed(CLI::App& command, const std::string& name, const std::string& help,
                        const std::string& form, TextReader read);

/// Two of one kind with a comma between, "24.000g,24.096g". Fault (command_line): else.
template <class Q>
Result<std::pair<Q, Q>> parse_pair(std::string_view text, const char* example) {
  const auto comma = text.find(',');
  if (comma == std::string_view::npos)
    return Fault{FaultKind::command_line, "'" + std::string(text) + "' has no comma", "",
                 std::string("write two, as ") + example};
  const auto first = parse<Q>(text.substr(0, comma));
  if (!first)
    return first.fault();
  const auto second = parse<Q>(text.substr(comma + 1));
  if (!second)
    return second.fault();
  return std::pair{*first, *second};
}

} // namespace whirler::cli
