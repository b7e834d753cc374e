#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"

#include <array>

namespace whirler::files {
namespace {

struct Kind {
  std::string_view word;
  Read<AnyFile> (*read)(std::string_view text, const std::string& file);
};

template <class T, Read<T> (*reader)(std::string_view, const std::string&)>
Read<AnyFile> as_any(std::string_view text, const std::string& file) {
  auto read = reader(text, file);
  if (!read)
    return read.faults();
  return AnyFile{std::move(read).value()};
}

/// In the order of AnyFile's alternatives.
constexpr std::array<Kind, std::variant_size_v<AnyFile>> kKinds{{
    {"profile", as_any<profile::Profile, read_profile>},
    {"resist", as_any<ResistFile, read_resist>},
    {"blank", as_any<blank::Blank, read_blank>},
    {"machine", as_any<machine::Machine, read_machine>},
    {"calibration", as_any<CalibrationFile, read_calibration>},
    {"drive", as_any<modbus::Description, read_drive>},
    {"board", as_any<Board, read_board>},
}};

} // namespace

Read<AnyFile> read_any(std::string_view text, const std::string& file) {
  FaultList faults(text, file);
  const auto tree = parse_json(text, faults);
  const auto word = tree ? read_kind({*tree, "", faults}) : std::nullopt;
  if (!word)
    return std::move(faults).take();
  std::vector<std::string> words;
  for (const Kind& kind : kKinds) {
    if (*word == kind.word)
      return kind.read(text, file);
    words.emplace_back(kind.word);
  }
  (void)read_word(Place{*tree, "", faults}.under("kind", *member(*tree, "kind")), words);
  return std::move(faults).take();
}

std::string_view kind_word(const AnyFile& any) { return kKinds[any.index()].word; }

} // namespace whirler::files
