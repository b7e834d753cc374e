#include "board_weighings.hpp"

#include "coat_words.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

constexpr const char* kBefore = "before";
constexpr int kScaleDigits = 8;

std::string text_at(const Json& document, const char* key) {
  const auto found = document.find(key);
  return found != document.end() && found->is_string() ? found->get<std::string>() : "";
}

std::optional<std::vector<std::string>> uids_in(const Json& document) {
  const auto found = document.find("with");
  if (found == document.end() || !found->is_array())
    return std::nullopt;
  std::vector<std::string> uids;
  for (const Json& uid : *found)
    if (uid.is_string())
      uids.push_back(uid.get<std::string>());
  return uids;
}

/// None of the other kind of board, and none without a mass.
std::optional<Weighing> weighing_in(const notebook::Note& note, bool simulated) {
  const Json document = Json::parse(note.document, nullptr, false);
  if (!document.is_object())
    return std::nullopt;
  const auto mass = document.find("mass_g");
  if (mass == document.end() || !mass->is_number() || !(mass->get<double>() > 0.0))
    return std::nullopt;
  if (const auto kind = document.find("simulated");
      kind != document.end() && kind->is_boolean() && kind->get<bool>() != simulated)
    return std::nullopt;
  Weighing weighing{note.at, text_at(document, "when"), grams(mass->get<double>()),
                    text_at(document, "typed"), uids_in(document)};
  const auto typed = read_mass(weighing.typed);
  if (!typed || !*typed || !is_same_reading(**typed, weighing.mass))
    weighing.typed = number_text(weighing.mass.g(), kScaleDigits);
  return weighing;
}

} // namespace

Json weighing_document(const Weighing& weighing, bool simulated) {
  Json document{{"when", weighing.when},
                {"mass_g", rounded(weighing.mass.g())},
                {"typed", weighing.typed},
                {"simulated", simulated}};
  if (weighing.with)
    document["with"] = *weighing.with;
  return document;
}

std::vector<Weighing> weighings_of(notebook::Notebook& notebook, const std::string& board,
                                   bool simulated) {
  std::vector<Weighing> all;
  const auto notes = notebook.notes({.kind = kWeighingNote, .board = board});
  if (!notes || board.empty())
    return all; // the notebook says why when the run is to be kept
  for (const notebook::Note& note : *notes)
    if (auto weighing = weighing_in(note, simulated))
      all.push_back(std::move(*weighing));
  return all;
}

std::vector<Weighing> weighings_about(notebook::Instant started, const std::vector<Weighing>& all) {
  std::vector<Weighing> about;
  for (const Weighing& weighing : all) {
    const bool is_bare = weighing.when == kBefore;
    const bool is_taken_again =
        is_bare && !about.empty() && is_same_reading(about.front().mass, weighing.mass);
    if (is_bare && !is_taken_again) {
      if (weighing.at > started)
        break;
      about.clear();
    }
    const bool is_there = is_bare ? !is_taken_again : !about.empty() && weighing.at >= started;
    if (is_there)
      about.push_back(weighing);
  }
  return about;
}

std::optional<Weighing> last_weighing(const std::vector<Weighing>& all, const std::string& when) {
  std::optional<Weighing> last;
  for (const Weighing& weighing : all)
    if (weighing.when == when)
      last = weighing;
  return last;
}

bool is_same_reading(Mass one, Mass other) {
  constexpr double kSameG = 1e-6; // a hundredth of what a fine pair of scales shows
  return std::abs(one.g() - other.g()) < kSameG;
}

std::string weighings_text(const std::vector<Weighing>& weighings) {
  std::string text;
  for (const Weighing& weighing : weighings)
    text += (text.empty() ? "" : ", ") +
            std::string(weighing.when == kBefore ? "bare " : "coated ") +
            number_text(weighing.mass.g(), kScaleDigits) + " g";
  return text;
}

Json to_json(const std::vector<Weighing>& weighings) {
  Json json = Json::array();
  for (const Weighing& weighing : weighings)
    json.push_back({{"at", notebook::instant_text(weighing.at)},
                    {"when", weighing.when},
                    {"mass_g", rounded(weighing.mass.g())}});
  return json;
}

} // namespace whirler::cli
