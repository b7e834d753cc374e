// Files that a command was given, read and checked. A command reads all of its files first and then
// asks once, so that the mistakes of all of them come in one go:
//
//   FileLoader files(context);
//   const auto profile = files.load<profile::Profile>(profile_path);
//   const auto machine = files.load<machine::Machine>(machine_path);
//   if (!files.ok())
//     return files.fail();                       // every mistake said; exit status 3
//   run(profile->value, machine->value, machine->text);
//
// A command with one file may write:
//
//   const auto blank = load<blank::Blank>(context, path);
//   if (!blank)
//     return kInput;                             // already said
#pragma once

#include "context.hpp"
#include "whirler/files/acceleration_csv.hpp"
#include "whirler/files/pulses_csv.hpp"
#include "whirler/files/read.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// A file's value with its text as it was: the notebook keeps both.
template <class T>
struct Loaded {
  T value;
  std::string text;
  std::string path;
};

/// Reads a T from text; one for each kind of file.
template <class T>
files::Read<T> read_as(const std::string& text, const std::string& path);
template <>
files::Read<profile::Profile> read_as(const std::string& text, const std::string& path);
template <>
files::Read<files::ResistFile> read_as(const std::string& text, const std::string& path);
template <>
files::Read<blank::Blank> read_as(const std::string& text, const std::string& path);
template <>
files::Read<machine::Machine> read_as(const std::string& text, const std::string& path);
template <>
files::Read<files::CalibrationFile> read_as(const std::string& text, const std::string& path);
template <>
files::Read<modbus::Description> read_as(const std::string& text, const std::string& path);
template <>
files::Read<files::Board> read_as(const std::string& text, const std::string& path);
template <>
files::Read<files::AnyFile> read_as(const std::string& text, const std::string& path);

/// A path that `file` names, from that file's folder; empty and absolute ones as they are.
[[nodiscard]] std::string path_from(const std::string& file, const std::string& named);

class FileLoader {
 public:
  explicit FileLoader(const Context& context) : context_(context) {}

  /// The file's value; none, and its mistakes kept for `fail`, where it cannot be read.
  template <class T>
  std::optional<Loaded<T>> load(const std::string& path) {
    return keep<T>(path, [&](const std::string& text) { return read_as<T>(text, path); });
  }
  /// The same of a text that no file holds.
  template <class T>
  std::optional<Loaded<T>> load_text(const std::string& text, const std::string& name) {
    return keep_text<T>(text, name, [&](const std::string& t) { return read_as<T>(t, name); });
  }
  std::optional<Loaded<tach::AccelerationTrack>> load_acceleration(const std::string& path) {
    return keep<tach::AccelerationTrack>(
        path, [&](const std::string& text) { return files::read_acceleration(text, path); });
  }
  std::optional<Loaded<tach::PulseTrain>> load_pulses(const std::string& path,
                                                      const files::PulsesFormat& format) {
    return keep<tach::PulseTrain>(
        path, [&](const std::string& text) { return files::read_pulses(text, path, format); });
  }
  [[nodiscard]] bool ok() const { return faults_.empty(); }
  [[nodiscard]] const std::vector<files::FileFault>& faults() const { return faults_; }
  /// Says every mistake; the status of the command.
  [[nodiscard]] int fail() const;

 private:
  template <class T, class Reader>
  std::optional<Loaded<T>> keep(const std::string& path, const Reader& reader) {
    auto text = read_text(path);
    if (!text)
      return std::nullopt;
    return keep_text<T>(std::move(*text), path, reader);
  }
  template <class T, class Reader>
  std::optional<Loaded<T>> keep_text(std::string text, const std::string& path,
                                     const Reader& reader) {
    auto read = reader(text);
    if (read)
      return Loaded<T>{std::move(read).value(), std::move(text), path};
    faults_.insert(faults_.end(), read.faults().begin(), read.faults().end());
    return std::nullopt;
  }
  std::optional<std::string> read_text(const std::string& path);

  const Context& context_;
  std::vector<files::FileFault> faults_;
};

/// One file's value; none where it cannot be read, and then every mistake has been said and
/// answered, and the command's status is kInput.
template <class T>
std::optional<Loaded<T>> load(const Context& context, const std::string& path) {
  FileLoader files(context);
  auto loaded = files.load<T>(path);
  if (!loaded)
    (void)files.fail();
  return loaded;
}

/// Says every mistake and answers {"fault": the first, "faults": all}; gives kInput.
[[nodiscard]] int fail(const Context& context, const std::vector<files::FileFault>& faults);

/// The JSON form of a file's mistake: file, line, column, pointer, found, allowed, next.
[[nodiscard]] Json to_json(const files::FileFault& fault);

} // namespace whirler::cli
