#include "placed_values.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

namespace whirler::cli {
namespace {

Fault wrong(const std::string& text, const std::string& is_not, const std::string& next) {
  return {FaultKind::command_line, "'" + text + "' is not " + is_not, "", next};
}

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts{""};
  for (const char c : text)
    if (c == at)
      parts.emplace_back();
    else
      parts.back() += c;
  return parts;
}

/// What may follow the first part: an angle and a radius, in this order.
struct PlaceText {
  std::optional<Angle> at;
  Length radius;
};

Result<PlaceText> parse_place(const std::vector<std::string>& parts, std::size_t from) {
  PlaceText place;
  if (parts.size() == from + 2) {
    const auto angle = parse<Angle>(parts[from]);
    if (!angle)
      return angle.fault();
    place.at = *angle;
  }
  const auto radius = parse<Length>(parts.back());
  if (!radius)
    return radius.fault();
  place.radius = *radius;
  return place;
}

bool has_place(const std::vector<std::string>& parts) {
  return parts.size() == 2 || parts.size() == 3;
}

/// Beyond this a turn is lost in the last digit, and the angle says nothing.
bool says_where(Angle angle) { return std::abs(angle.turns()) < 1e6; }

} // namespace

std::string angle_text(Angle angle) {
  constexpr double kFinest_deg = 1e-6;
  const double deg = kFinest_deg * std::round(balance::wrapped(angle).deg() / kFinest_deg);
  const std::string text = number_text(deg);
  return (text == "360" ? "0" : text) + " deg";
}

Result<balance::Reading> parse_reading(const std::string& text) {
  const std::string next = "write a size and a phase, as in 3.4@116deg";
  const auto parts = split(text, '@');
  if (parts.size() != 2)
    return wrong(text, "a reading", next);
  const auto size = parse_number(parts[0]);
  const auto phase = parse<Angle>(parts[1]);
  if (!size || !phase || *size < 0.0 || !says_where(*phase))
    return wrong(text, "a reading", next);
  return balance::reading(*size, *phase);
}

Result<balance::PlacedMass> parse_trial(const std::string& text) {
  const std::string next = "write a mass, an angle and a radius, as in 2g@0deg@30mm";
  const auto parts = split(text, '@');
  if (!has_place(parts))
    return wrong(text, "a trial mass", next);
  const auto mass = parse<Mass>(parts[0]);
  const auto place = parse_place(parts, 1);
  if (!mass || !place || !says_where(place->at.value_or(Angle{})))
    return wrong(text, "a trial mass", next);
  return balance::PlacedMass{*mass, place->at.value_or(degrees(0.0)), place->radius};
}

Result<std::vector<balance::Place>> parse_places(const std::string& text) {
  const std::string next = "write how many and at which radius, as in 12@25mm or 12@15deg@25mm";
  const auto parts = split(text, '@');
  if (!has_place(parts))
    return wrong(text, "a ring of holes", next);
  const auto count = parse_number(parts[0]);
  const auto place = parse_place(parts, 1);
  if (!count || !place || !says_where(place->at.value_or(Angle{})) ||
      std::floor(*count) != *count || *count < 1.0 ||
      *count > static_cast<double>(balance::kMostPlaces))
    return wrong(text, "a ring of holes", next);
  return balance::even_places(static_cast<int>(*count), place->at.value_or(degrees(0.0)),
                              place->radius);
}

Result<std::vector<balance::Place>> without(std::vector<balance::Place> ring,
                                            const std::vector<std::string>& taken) {
  constexpr double kFound_deg = 5.0;
  std::vector<balance::Place> left = ring;
  for (const std::string& text : taken) {
    const auto at = parse<Angle>(text);
    if (!at || !says_where(*at))
      return wrong(text, "an angle", "write where the hole is, as in --without 60deg");
    const auto apart_deg = [&](const balance::Place& place) {
      return std::abs(std::remainder((place.at - *at).deg(), 360.0));
    };
    const auto hole = std::min_element(ring.begin(), ring.end(), [&](const auto& a, const auto& b) {
      return apart_deg(a) < apart_deg(b);
    });
    if (hole == ring.end() || apart_deg(*hole) > kFound_deg)
      return input_fault(
          "no hole lies at " + angle_text(*at), "--without",
          "name one of the ring" +
              (hole == ring.end() ? std::string{} : ": the nearest is at " + angle_text(hole->at)));
    std::erase_if(left, [&](const auto& place) { return place.at == hole->at; });
  }
  if (left.empty())
    return input_fault("every hole is taken", "--without", "leave a hole to put a mass in");
  return left;
}

Result<std::vector<double>> parse_numbers(const std::string& text) {
  std::vector<double> numbers;
  for (const std::string& part : split(text, ',')) {
    const auto number = parse_number(part);
    if (!number)
      return wrong(text, "a list of numbers", "write them with commas between, as in 8,11,3.8,15");
    numbers.push_back(*number);
  }
  return numbers;
}

Result<Velocity> parse_grade(const std::string& text) {
  std::string number = text;
  if (number.starts_with('G') || number.starts_with('g'))
    number.erase(0, 1);
  if (number.ends_with("mm/s"))
    number.erase(number.size() - 4);
  const auto value = parse_number(number);
  if (!value)
    return wrong(text, "a balance grade", "write it in mm/s, as in 6.3");
  return millimetres_per_s(*value);
}

} // namespace whirler::cli
