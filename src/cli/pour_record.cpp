#include "pour_record.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace whirler::cli {
namespace {

constexpr std::array<Fate, 3> kFates{Fate::poured_over, Fate::washed_off, Fate::cancelled};

std::optional<Length> um_at(const Json& json, const char* pointer) {
  const Json::json_pointer place(pointer);
  if (!json.contains(place) || !json[place].is_number())
    return std::nullopt;
  const double um = json[place].get<double>();
  return std::isfinite(um) && um > 0.0 ? std::optional(micrometres(um)) : std::nullopt;
}

std::string text_at(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

std::optional<SideFilm> film_in(const Json& pour) {
  const auto middle = um_at(pour, "/film/thickness_um");
  const auto low = um_at(pour, "/film/interval_um/0");
  const auto high = um_at(pour, "/film/interval_um/1");
  if (!middle || !low || !high)
    return std::nullopt;
  const Json& film = pour["film"];
  const auto set = film.find("is_set");
  return SideFilm{{*middle, *low, *high},
                  set != film.end() && set->is_boolean() && set->get<bool>()};
}

} // namespace

Json to_json(const SideFilm& film) {
  return {{"thickness_um", rounded(film.film.thickness.um())},
          {"interval_um", {rounded(film.film.low.um()), rounded(film.film.high.um())}},
          {"is_set", film.is_set}};
}

Json pour_document(const PourRecord& record) {
  Json over = Json::array();
  for (const Pour& pour : record.over)
    over.push_back({{"coat", pour.coat},
                    {"started", pour.started},
                    {"film", pour.film ? to_json(*pour.film) : Json(nullptr)}});
  return {{"side", record.side}, {"pour", record.pour}, {"over", std::move(over)}};
}

std::optional<PourRecord> pour_record(std::span<const notebook::Note> notes) {
  std::optional<PourRecord> record;
  for (const notebook::Note& note : notes) {
    const Json document =
        note.kind == kPourNote ? Json::parse(note.document, nullptr, false) : Json(nullptr);
    if (!document.is_object())
      continue;
    record = PourRecord{text_at(document, "side"), 1, {}};
    if (const auto pour = document.find("pour"); pour != document.end() && pour->is_number())
      record->pour = static_cast<int>(std::clamp(pour->get<double>(), 1.0, 1e6));
    if (const auto over = document.find("over"); over != document.end() && over->is_array())
      for (const Json& pour : *over)
        if (pour.is_object())
          record->over.push_back({text_at(pour, "coat"), text_at(pour, "started"), film_in(pour)});
  }
  return record;
}

std::optional<SideFilm> film_over(std::span<const Pour> before,
                                  const std::optional<SideFilm>& last) {
  if (!last)
    return std::nullopt;
  SideFilm now = *last;
  for (const Pour& pour : before)
    if (pour.film && pour.film->is_set)
      now.film.high = now.film.high + pour.film->film.thickness;
  return now;
}

std::string fate_kind(Fate fate) {
  switch (fate) {
  case Fate::poured_over:
    return "poured over";
  case Fate::washed_off:
    return "washed off";
  case Fate::cancelled:
    return "side cancelled";
  case Fate::lies:
    break;
  }
  return "";
}

Fate fate_of(std::span<const notebook::Note> notes) {
  Fate last = Fate::lies;
  for (const notebook::Note& note : notes)
    for (const Fate fate : kFates)
      if (note.kind == fate_kind(fate))
        last = fate;
  return last;
}

} // namespace whirler::cli
