#include "context.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>

namespace whirler::cli {

ExitStatus exit_status(FaultKind kind) {
  switch (kind) {
  case FaultKind::program:
    return kProgramFault;
  case FaultKind::command_line:
    return kCommandLine;
  case FaultKind::input:
    return kInput;
  case FaultKind::link:
    return kLinkLost;
  case FaultKind::ended_early:
    return kEndedEarly;
  }
  return kProgramFault;
}

namespace {

const char* kind_word(FaultKind kind) {
  switch (kind) {
  case FaultKind::program:
    return "program";
  case FaultKind::command_line:
    return "command_line";
  case FaultKind::input:
    return "input";
  case FaultKind::link:
    return "link";
  case FaultKind::ended_early:
    return "ended_early";
  }
  return "program";
}

/// To twelve digits: without the last bits of a conversion between units, 3000 rpm made of radians
/// reads 3000.0000000000005 otherwise.
double tidied(double value) {
  if (!std::isfinite(value))
    return value;
  std::array<char, 32> text{};
  const auto written = std::to_chars(text.data(), text.data() + text.size(), value,
                                     std::chars_format::scientific, 11);
  double rounded = value;
  std::from_chars(text.data(), written.ptr, rounded);
  return rounded;
}

Json tidied(Json document) {
  if (document.is_number_float())
    return tidied(document.get<double>());
  if (document.is_structured())
    for (auto& part : document)
      part = tidied(std::move(part));
  return document;
}

} // namespace

Json to_json(const Fault& fault) {
  return {{"kind", kind_word(fault.kind)},
          {"what", fault.what},
          {"where", fault.where},
          {"next", fault.next}};
}

Json rounded(double value) {
  if (!std::isfinite(value))
    return nullptr;
  std::array<char, 32> buffer{};
  const auto written = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value,
                                     std::chars_format::scientific, 11);
  double read = value;
  std::from_chars(buffer.data(), written.ptr, read);
  return read;
}

void Context::say(const std::string& line) const {
  (json ? std::cerr : std::cout) << line << std::endl;
}

void Context::answer(const Json& document) const {
  if (json)
    std::cout << tidied(document).dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
}

int Context::fail(const Fault& fault) const {
  std::cerr << "whirler: " << to_text(fault) << '\n';
  answer({{"fault", to_json(fault)}});
  return exit_status(fault.kind);
}

Result<std::string> read_text_file(const std::string& path) {
  constexpr std::uintmax_t kLargest = 64U << 20U;
  std::error_code error;
  if (std::filesystem::is_directory(path, error))
    return input_fault("this is a folder", path, "name a file");
  const auto size = std::filesystem::file_size(path, error);
  std::ifstream file(path, std::ios::binary);
  if (!file)
    return input_fault("the file cannot be opened", path, "check its name and its permissions");
  if (!error && size > kLargest)
    return input_fault("the file is larger than 64 MiB", path, "check that it is the right file");
  std::string text{std::istreambuf_iterator<char>(file), {}};
  if (file.bad())
    return input_fault("the file could not be read to its end", path, "check the disk");
  return text;
}

} // namespace whirler::cli
