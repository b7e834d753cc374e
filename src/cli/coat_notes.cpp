#include "coat_notes.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

constexpr const char* kThickness = "thickness";

std::optional<Length> length_in(const Json& document, const char* key) {
  const auto found = document.is_object() ? document.find(key) : document.end();
  if (found == document.end() || !found->is_number())
    return std::nullopt;
  const double value = found->get<double>();
  if (!std::isfinite(value) || !(value > 0.0))
    return std::nullopt;
  return micrometres(value);
}

} // namespace

ThicknessNotes thickness_notes(std::span<const notebook::Note> notes) {
  ThicknessNotes last;
  for (const notebook::Note& note : notes) {
    if (note.kind != kThickness)
      continue;
    const Json document = Json::parse(note.document, nullptr, false);
    if (const auto wanted = length_in(document, "wanted_um"))
      last.wanted = wanted;
    if (const auto measured = length_in(document, "measured_um"))
      last.measured = measured;
  }
  return last;
}

Json thickness_document(const ThicknessNotes& thickness) {
  Json document = Json::object();
  if (thickness.wanted)
    document["wanted_um"] = rounded(thickness.wanted->um());
  if (thickness.measured)
    document["measured_um"] = rounded(thickness.measured->um());
  return document;
}

std::string note_text(const notebook::Note& note) {
  const ThicknessNotes thickness = thickness_notes(std::span(&note, 1));
  std::string text;
  if (thickness.wanted)
    text = "wanted " + number_text(thickness.wanted->um()) + " um";
  if (thickness.measured)
    text += (text.empty() ? "" : ", ") + std::string("measured ") +
            number_text(thickness.measured->um()) + " um";
  if (text.empty())
    if (const Json document = Json::parse(note.document, nullptr, false);
        document.is_object() && document.contains("text") && document["text"].is_string())
      text = document["text"].get<std::string>();
  return text.empty() ? note.document : text;
}

} // namespace whirler::cli
