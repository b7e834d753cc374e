#include "balance_record.hpp"

#include "placed_values.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

namespace whirler::cli {
namespace {

using balance::PlacedMass;

constexpr std::size_t kMostInASide = 3; ///< masses; more make the log's lines unreadable
constexpr std::string_view kAnd = " + ";

std::optional<double> number_in(const Json& object, const char* key) {
  const auto found = object.is_object() ? object.find(key) : object.end();
  if (found == object.end() || !found->is_number() || !std::isfinite(found->get<double>()))
    return std::nullopt;
  return found->get<double>();
}

/// None where the document has no such list, or not of masses.
std::optional<std::vector<PlacedMass>> list_in(const Json& document, const char* key) {
  const auto found = document.is_object() ? document.find(key) : document.end();
  if (found == document.end() || !found->is_array())
    return std::nullopt;
  std::vector<PlacedMass> masses;
  for (const Json& mass : *found) {
    const auto grams_of = number_in(mass, "mass_g");
    const auto angle = number_in(mass, "angle_deg");
    const auto radius = number_in(mass, "radius_mm");
    if (!grams_of || !angle || !radius)
      return std::nullopt;
    masses.push_back({grams(*grams_of), degrees(*angle), millimetres(*radius)});
  }
  return masses;
}

/// The list under `key` in the last note that has it.
std::optional<std::vector<PlacedMass>> noted_masses(const notebook::Coat& coat, const char* key) {
  std::optional<std::vector<PlacedMass>> last;
  for (const notebook::Note& note : coat.notes)
    if (note.kind == kBalanceNote)
      if (auto masses = list_in(Json::parse(note.document, nullptr, false), key))
        last = std::move(masses);
  return last;
}

/// "1.3g@180deg@25mm + 2g@0deg@25mm"; none where a part is no mass.
std::optional<std::vector<PlacedMass>> typed_masses(std::string_view text) {
  std::vector<PlacedMass> masses;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(kAnd, from), text.size());
    const auto mass = parse_trial(std::string(text.substr(from, to - from)));
    if (!mass)
      return std::nullopt;
    masses.push_back(*mass);
    from = to + kAnd.size();
  }
  return masses;
}

} // namespace

std::string typed_form(const PlacedMass& mass) {
  const std::string at = angle_text(mass.at); // "216 deg"
  return number_text(mass.mass.g()) + "g@" + at.substr(0, at.find(' ')) + "deg@" +
         number_text(mass.radius.mm()) + "mm";
}

std::string list_text(const std::vector<PlacedMass>& masses, std::string_view between) {
  std::string text;
  for (const PlacedMass& mass : masses)
    text += std::string(text.empty() ? "" : between) + typed_form(mass);
  return text;
}

Json list_json(const std::vector<PlacedMass>& masses) {
  Json list = Json::array();
  for (const PlacedMass& mass : masses)
    list.push_back(to_json(mass));
  return list;
}

Json to_json(const PlacedMass& mass) {
  return {{"mass_g", mass.mass.g()}, {"angle_deg", mass.at.deg()}, {"radius_mm", mass.radius.mm()}};
}

std::string balance_side(const BalanceRecord& record) {
  if (record.on.empty())
    return record.run;
  if (record.on.size() > kMostInASide)
    return record.run + " of " + std::to_string(record.on.size()) + " masses";
  return record.run + " " + list_text(record.on, kAnd);
}

Json balance_document(const BalanceRecord& record) {
  Json document{{"run", record.run}, {"masses_on", list_json(record.on)}};
  if (record.unbalance)
    document["unbalance"] = {{"g_mm", record.unbalance->size.g_mm()},
                             {"angle_deg", record.unbalance->at.deg()}};
  if (!record.add.empty())
    document["add"] = list_json(record.add);
  if (!record.next.empty())
    document["next"] = list_json(record.next);
  return document;
}

std::string balance_text(const Json& document) {
  const auto run = document.find("run");
  const auto on = list_in(document, "masses_on");
  if (run == document.end() || !run->is_string() || !on)
    return "";
  std::string text = run->get<std::string>();
  if (!on->empty())
    text += ", on: " + list_text(*on, kAnd);
  if (const auto found = document.find("unbalance"); found != document.end()) {
    const auto size = number_in(*found, "g_mm");
    const auto at = number_in(*found, "angle_deg");
    if (size && at)
      text += "; unbalance" + std::string(*run == "trial" ? " without it " : " ") +
              number_text(*size) + " g mm, heavy side at " + angle_text(degrees(*at));
  }
  if (const auto add = list_in(document, "add"); add && !add->empty())
    text += "; to add: " + list_text(*add, kAnd);
  if (const auto next = list_in(document, "next"); next && !next->empty())
    text += "; to be on next: " + list_text(*next, kAnd);
  return text;
}

std::vector<PlacedMass> masses_told(const notebook::Coat& coat) {
  return noted_masses(coat, "next").value_or(std::vector<PlacedMass>{});
}

Result<std::vector<PlacedMass>> masses_on(const notebook::Coat& coat) {
  if (auto noted = noted_masses(coat, "masses_on"))
    return *noted;
  const std::string& side = coat.start.side;
  for (const std::string run : {"trial ", "correction "})
    if (side.starts_with(run))
      if (const auto typed = typed_masses(std::string_view(side).substr(run.size())))
        return *typed;
  const bool bare = side.empty() || side == "as it is";
  if (coat.start.profile != kBalanceProfile || bare)
    return std::vector<PlacedMass>{};
  return input_fault("balancing masses were on the rotor (\"" + side +
                         "\"), and the record does not say how heavy",
                     "coat " + std::to_string(coat.number),
                     "name the coat of the run without them, \"as it is\"");
}

} // namespace whirler::cli
