// What every command is given, and the one way in which each of them ends.
#pragma once

#include "whirler/units/result.hpp"
#include "whirler/units/text.hpp"

#include <CLI/CLI.hpp>
#include <nlohmann/json.hpp>

#include <functional>
#include <string>

namespace whirler::cli {

/// Exit statuses of the program; the README has the same table.
enum ExitStatus : int {
  kDone = 0,
  kProgramFault = 1,
  kCommandLine = 2,
  kInput = 3,
  kLinkLost = 4,
  kEndedEarly = 5,
  kVerdictStop = 6,
};
[[nodiscard]] ExitStatus exit_status(FaultKind kind);

using Json = nlohmann::ordered_json;

/// Options that every command takes, and the command that was asked for.
struct Context {
  bool json = false;         ///< one JSON document on stdout, people's text on stderr
  std::string notebook;      ///< --notebook, else WHIRLER_NOTEBOOK, else empty (the default place)
  std::function<int()> work; ///< set by the command whose name was given

  /// A line for people: stdout, or stderr when stdout carries JSON.
  void say(const std::string& line) const;
  /// The JSON document, if one was asked for.
  void answer(const Json& document) const;
  /// Says the fault (and answers {"fault": …} where JSON was asked for); gives its exit status.
  [[nodiscard]] int fail(const Fault& fault) const;
};

/// The JSON form of a fault: kind, what, where, next.
[[nodiscard]] Json to_json(const Fault& fault);

/// A number for JSON without the last digits' noise of a change of units (3000, not
/// 3000.0000000000005): 12 significant digits; null where it is not finite.
[[nodiscard]] Json rounded(double value);

/// The whole text of a file; fault (input) when it cannot be read or is over 64 MiB.
[[nodiscard]] Result<std::string> read_text_file(const std::string& path);

/// Adds `--name` taking a quantity with its unit ("1.4um"); a text that is no such quantity ends
/// the program with status 2 and the list of units. `Into` is Q or std::optional<Q>.
template <class Q, class Into>
CLI::Option* add_quantity(CLI::App& command, const std::string& name, Into& into,
                          const std::string& help) {
  return command
      .add_option_function<std::string>(
          name,
          [&into, name](const std::string& text) {
            const auto read = parse<Q>(text);
            if (!read)
              throw CLI::ValidationError(name, to_text(read.fault()));
            into = *read;
          },
          help)
      ->type_name("QUANTITY");
}

} // namespace whirler::cli
