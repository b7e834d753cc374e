#include "coat_notes.hpp"

#include "balance_record.hpp"
#include "pour_record.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

std::optional<Length> length_in(const Json& document, const char* key) {
  const auto found = document.is_object() ? document.find(key) : document.end();
  if (found == document.end() || !found->is_number())
    return std::nullopt;
  const double value = found->get<double>();
  if (!std::isfinite(value) || !(value > 0.0))
    return std::nullopt;
  return micrometres(value);
}

std::vector<std::string> texts_in(const Json& document, const char* key) {
  std::vector<std::string> texts;
  const auto found = document.is_object() ? document.find(key) : document.end();
  if (found != document.end() && found->is_array())
    for (const Json& text : *found)
      if (text.is_string())
        texts.push_back(text.get<std::string>());
  return texts;
}

std::string text_in(const Json& document, const char* key) {
  const auto found = document.find(key);
  return found != document.end() && found->is_string() ? found->get<std::string>() : "";
}

/// "22 C, 45 % humidity".
std::string room_text(const Json& room) {
  std::string text;
  if (const auto at = room.find("temperature_C"); at != room.end() && at->is_number())
    text = number_text(at->get<double>()) + " C";
  if (const auto at = room.find("humidity"); at != room.end() && at->is_number())
    text += (text.empty() ? "" : ", ") + number_text(100.0 * at->get<double>()) + " % humidity";
  return text;
}

std::string pour_text(const notebook::Note& note) {
  const auto record = pour_record(std::span(&note, 1));
  std::string text = "number " + std::to_string(record->pour) + " on this side";
  for (const Pour& before : record->over) {
    text += ", over that of " + before.started;
    if (before.film)
      text += " (" + number_text(before.film->film.thickness.um()) + " um, " +
              (before.film->is_set ? "set" : "not set") + ")";
  }
  return text;
}

std::string lamp_text(const Json& exposure) {
  const auto number = [&](const char* key) {
    const auto at = exposure.find(key);
    return at != exposure.end() && at->is_number() ? number_text(at->get<double>()) : "?";
  };
  return number("time_s") + " s at " + number("lamp_mW_cm2") + " mW/cm2 (" + number("dose_mJ_cm2") +
         " mJ/cm2) as worked out";
}

/// A note of a kind that this program writes; empty for any other.
std::string known_text(const notebook::Note& note, const Json& document) {
  if (note.kind == kThicknessNote) {
    const ThicknessNotes thickness = thickness_notes(std::span(&note, 1));
    const std::string measured = measured_text(thickness);
    if (!thickness.wanted)
      return measured;
    return "wanted " + number_text(thickness.wanted->um()) + " um" +
           (measured.empty() ? "" : ", " + measured);
  }
  if (note.kind == "room")
    return room_text(document);
  if (note.kind == kPourNote)
    return pour_text(note);
  if (note.kind == "exposure")
    return lamp_text(document);
  if (note.kind == kBalanceNote)
    return balance_text(document);
  if (fate_of(std::span(&note, 1)) != Fate::lies)
    return "at " + notebook::instant_text(note.at);
  return text_in(document, "text");
}

} // namespace

ThicknessNotes thickness_notes(std::span<const notebook::Note> notes) {
  ThicknessNotes last;
  for (const notebook::Note& note : notes) {
    if (note.kind != kThicknessNote)
      continue;
    const Json document = Json::parse(note.document, nullptr, false);
    if (const auto wanted = length_in(document, "wanted_um"))
      last.wanted = wanted;
    if (const auto measured = length_in(document, "measured_um")) {
      last.measured = measured;
      last.together = texts_in(document, "together");
    }
  }
  return last;
}

Json thickness_document(const ThicknessNotes& thickness) {
  Json document = Json::object();
  if (thickness.wanted)
    document["wanted_um"] = rounded(thickness.wanted->um());
  if (thickness.measured)
    document["measured_um"] = rounded(thickness.measured->um());
  if (thickness.together.empty())
    return document;
  document["how"] = "weighed";
  document["together"] = thickness.together;
  return document;
}

std::string measured_text(const ThicknessNotes& thickness) {
  if (!thickness.measured)
    return "";
  std::string text = "measured " + number_text(thickness.measured->um()) + " um";
  if (!thickness.together.empty())
    text += " by weight";
  if (thickness.together.size() > 1)
    text += ", the mean of " + std::to_string(thickness.together.size()) + " sides";
  return text;
}

std::string note_text(const notebook::Note& note) {
  const Json document = Json::parse(note.document, nullptr, false);
  const std::string text = document.is_object() ? known_text(note, document) : "";
  return text.empty() ? note.document : text;
}

} // namespace whirler::cli
