#include "load.hpp"

#include <filesystem>
#include <iostream>

namespace whirler::cli {

template <>
files::Read<profile::Profile> read_as(const std::string& text, const std::string& path) {
  return files::read_profile(text, path);
}
template <>
files::Read<files::ResistFile> read_as(const std::string& text, const std::string& path) {
  return files::read_resist(text, path);
}
template <>
files::Read<blank::Blank> read_as(const std::string& text, const std::string& path) {
  return files::read_blank(text, path);
}
template <>
files::Read<machine::Machine> read_as(const std::string& text, const std::string& path) {
  return files::read_machine(text, path);
}
template <>
files::Read<files::CalibrationFile> read_as(const std::string& text, const std::string& path) {
  return files::read_calibration(text, path);
}
template <>
files::Read<modbus::Description> read_as(const std::string& text, const std::string& path) {
  return files::read_drive(text, path);
}
template <>
files::Read<files::Board> read_as(const std::string& text, const std::string& path) {
  return files::read_board(text, path);
}
template <>
files::Read<files::AnyFile> read_as(const std::string& text, const std::string& path) {
  return files::read_any(text, path);
}

std::string path_from(const std::string& file, const std::string& named) {
  const std::filesystem::path path = named;
  if (path.empty() || path.is_absolute())
    return named;
  return (std::filesystem::path(file).parent_path() / path).lexically_normal().string();
}

std::optional<std::string> FileLoader::read_text(const std::string& path) {
  auto text = read_text_file(path);
  if (text)
    return std::move(text).value();
  files::FileFault fault;
  fault.file = path;
  fault.found = text.fault().what;
  fault.allowed = "a file that can be read";
  fault.next = text.fault().next;
  faults_.push_back(std::move(fault));
  return std::nullopt;
}

int FileLoader::fail() const { return cli::fail(context_, faults_); }

int fail(const Context& context, const std::vector<files::FileFault>& faults) {
  Json all = Json::array();
  for (const files::FileFault& fault : faults) {
    std::cerr << "whirler: " << files::to_text(fault) << '\n';
    all.push_back(to_json(fault));
  }
  context.answer({{"fault", to_json(files::to_fault(faults))}, {"faults", std::move(all)}});
  return kInput;
}

Json to_json(const files::FileFault& fault) {
  return {{"file", fault.file},       {"line", fault.line},   {"column", fault.column},
          {"pointer", fault.pointer}, {"found", fault.found}, {"allowed", fault.allowed},
          {"next", fault.next}};
}

} // namespace whirler::cli
