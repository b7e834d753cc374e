#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <system_error>

namespace whirler {
namespace {

template <class Q>
struct Unit {
  std::string_view name;
  Q (*make)(double);
};

template <class Q>
struct UnitsOf;

#define WHIRLER_UNITS(Kind, word, ...)                                                             \
  template <>                                                                                      \
  struct UnitsOf<Kind> {                                                                           \
    static constexpr std::string_view kWord = word;                                                \
    static constexpr auto kUnits = std::to_array<Unit<Kind>>({__VA_ARGS__});                       \
  }

WHIRLER_UNITS(Duration, "a time", {"s", seconds}, {"ms", milliseconds}, {"us", microseconds},
              {"min", minutes});
WHIRLER_UNITS(Speed, "a speed", {"rpm", rpm}, {"krpm", [](double v) { return rpm(1000.0 * v); }},
              {"Hz", turns_per_s}, {"rad/s", rad_per_s});
WHIRLER_UNITS(Ramp, "a ramp", {"rpm/s", rpm_per_s}, {"rad/s2", rad_per_s2});
WHIRLER_UNITS(Angle, "an angle", {"deg", degrees}, {"rad", radians}, {"mrad", milliradians});
WHIRLER_UNITS(Velocity, "a velocity", {"mm/s", millimetres_per_s}, {"m/s", metres_per_s},
              {"um/s", micrometres_per_s});
WHIRLER_UNITS(Force, "a force", {"N", newtons}, {"mN", [](double v) { return newtons(1e-3 * v); }});
WHIRLER_UNITS(Frequency, "a frequency", {"Hz", hertz});
WHIRLER_UNITS(Length, "a length", {"um", micrometres}, {"µm", micrometres}, {"μm", micrometres},
              {"nm", nanometres}, {"mm", millimetres},
              {"cm", [](double v) { return millimetres(10.0 * v); }}, {"m", metres});
WHIRLER_UNITS(Area, "an area", {"cm2", square_centimetres}, {"mm2", square_millimetres},
              {"m2", square_metres});
WHIRLER_UNITS(Volume, "a volume", {"mL", millilitres}, {"ml", millilitres}, {"L", litres},
              {"uL", [](double v) { return millilitres(1e-3 * v); }});
WHIRLER_UNITS(Mass, "a mass", {"g", grams}, {"mg", milligrams}, {"kg", kilograms});
WHIRLER_UNITS(Density, "a density", {"g/cm3", g_per_cm3}, {"kg/m3", kg_per_m3});
WHIRLER_UNITS(Viscosity, "a viscosity", {"mPas", millipascal_seconds}, {"Pas", pascal_seconds},
              {"mPa.s", millipascal_seconds}, {"Pa.s", pascal_seconds},
              {"cP", millipascal_seconds});
WHIRLER_UNITS(Temperature, "a temperature", {"C", celsius}, {"°C", celsius}, {"K", kelvin});
WHIRLER_UNITS(Irradiance, "an irradiance", {"mW/cm2", mW_per_cm2}, {"W/m2", W_per_m2});
WHIRLER_UNITS(Dose, "a dose", {"mJ/cm2", mJ_per_cm2}, {"J/m2", J_per_m2});
WHIRLER_UNITS(Torque, "a torque", {"N.m", newton_metres}, {"Nm", newton_metres},
              {"mNm", millinewton_metres}, {"mN.m", millinewton_metres});

#undef WHIRLER_UNITS

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos)
    return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

struct NumberAndRest {
  double value;
  std::string_view rest;
};

std::optional<NumberAndRest> split(std::string_view text) {
  text = trimmed(text);
  if (text.starts_with('+'))
    text.remove_prefix(1);
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || !std::isfinite(value))
    return std::nullopt;
  const auto used = static_cast<std::size_t>(end - text.data());
  return NumberAndRest{value, trimmed(text.substr(used))};
}

template <class Q>
std::string unit_list() {
  std::string list;
  for (const auto& unit : UnitsOf<Q>::kUnits)
    list += (list.empty() ? "" : ", ") + std::string(unit.name);
  return list;
}

} // namespace

template <class Q>
Result<Q> parse(std::string_view text) {
  const Fault wrong{FaultKind::command_line,
                    "'" + std::string(text) + "' is not " + std::string(UnitsOf<Q>::kWord), "",
                    "write a number and one of the units " + unit_list<Q>()};
  const auto parts = split(text);
  if (!parts)
    return wrong;
  for (const auto& unit : UnitsOf<Q>::kUnits)
    if (unit.name == parts->rest) {
      const Q made = unit.make(parts->value);
      if (made.is_finite())
        return made;
    }
  return wrong;
}

template Result<Duration> parse(std::string_view);
template Result<Speed> parse(std::string_view);
template Result<Ramp> parse(std::string_view);
template Result<Angle> parse(std::string_view);
template Result<Velocity> parse(std::string_view);
template Result<Force> parse(std::string_view);
template Result<Frequency> parse(std::string_view);
template Result<Length> parse(std::string_view);
template Result<Area> parse(std::string_view);
template Result<Volume> parse(std::string_view);
template Result<Mass> parse(std::string_view);
template Result<Density> parse(std::string_view);
template Result<Viscosity> parse(std::string_view);
template Result<Temperature> parse(std::string_view);
template Result<Irradiance> parse(std::string_view);
template Result<Dose> parse(std::string_view);
template Result<Torque> parse(std::string_view);

Result<double> parse_number(std::string_view text) {
  const auto parts = split(text);
  if (parts && parts->rest.empty())
    return parts->value;
  return Fault{FaultKind::command_line, "'" + std::string(text) + "' is not a number", "",
               "write a plain number with a decimal point"};
}

namespace {

/// What people type has few digits already: finding that out is quicker than rounding.
bool is_short(std::string_view text, int digits) {
  const auto first = std::find_if(text.begin(), text.end(), [](char c) { return c >= '1'; });
  return text.find('e') == std::string_view::npos &&
         text.end() - first - std::count(first, text.end(), '.') <= digits;
}

} // namespace

std::string number_text(double value, int digits) {
  if (!std::isfinite(value))
    return "?";
  std::array<char, 64> buffer{};
  char* const begin = buffer.data();
  char* const end = begin + buffer.size();
  auto written = std::to_chars(begin, end, value);
  if (value != 0.0 && is_short({begin, static_cast<std::size_t>(written.ptr - begin)}, digits))
    return {begin, written.ptr};
  written = std::to_chars(begin, end, value, std::chars_format::scientific, digits - 1);
  double rounded = value;
  std::from_chars(begin, written.ptr, rounded);
  const double size = std::abs(rounded);
  const bool plain = rounded == 0.0 || (size >= 1e-4 && size < 1e7);
  if (rounded == 0.0)
    rounded = 0.0; // no "-0"
  written = plain ? std::to_chars(begin, end, rounded + 0.0, std::chars_format::fixed)
                  : std::to_chars(begin, end, rounded);
  return {begin, written.ptr};
}

} // namespace whirler
