#include "context.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <vector>

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
  constexpr std::size_t kLargest = 64U << 20U;
  constexpr std::size_t kPiece = 1U << 20U;
  std::error_code error;
  if (std::filesystem::is_directory(path, error))
    return input_fault("a folder", path, "name a file");
  std::ifstream file(path, std::ios::binary);
  if (!file)
    return input_fault("no file that can be opened", path, "check its name and its permissions");
  // Piece by piece, since what has no size of its own (a device, a pipe) may have no end either.
  std::string text;
  std::vector<char> piece(kPiece);
  while (file.read(piece.data(), kPiece) || file.gcount() > 0) {
    text.append(piece.data(), static_cast<std::size_t>(file.gcount()));
    if (text.size() > kLargest)
      return input_fault("more than 64 MiB", path, "check that it is the right file");
  }
  if (file.bad())
    return input_fault("a file that breaks off while it is read", path, "check the disk");
  return text;
}

} // namespace whirler::cli
