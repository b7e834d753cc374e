#include "whirler/notebook/instant.hpp"

#include <array>
#include <charconv>
#include <chrono>

namespace whirler::notebook {
namespace {

namespace chrono = std::chrono;

std::string digits(std::int64_t value, std::size_t width) {
  std::string text = std::to_string(value);
  return std::string(width > text.size() ? width - text.size() : 0, '0') + text;
}

/// Reads a number of exactly `width` digits and drops it from the front.
bool take_number(std::string_view& text, std::size_t width, int& value) {
  const std::string_view part = text.substr(0, width);
  const auto [end, error] = std::from_chars(part.data(), part.data() + part.size(), value);
  if (part.size() != width || error != std::errc{} || end != part.data() + width || value < 0)
    return false;
  text.remove_prefix(width);
  return true;
}

bool take_sign(std::string_view& text, char sign) {
  if (!text.starts_with(sign))
    return false;
  text.remove_prefix(1);
  return true;
}

} // namespace

std::string instant_text(Instant instant) {
  const chrono::sys_time<chrono::milliseconds> time{chrono::milliseconds{instant.unix_ms}};
  const auto day = chrono::floor<chrono::days>(time);
  const chrono::year_month_day date{day};
  const chrono::hh_mm_ss clock{time - day};
  return digits(int{date.year()}, 4) + "-" + digits(unsigned{date.month()}, 2) + "-" +
         digits(unsigned{date.day()}, 2) + "T" + digits(clock.hours().count(), 2) + ":" +
         digits(clock.minutes().count(), 2) + ":" + digits(clock.seconds().count(), 2) + "." +
         digits(clock.subseconds().count(), 3) + "Z";
}

std::optional<Instant> instant_from_text(const std::string& text) {
  std::string_view rest = text;
  std::array<int, 7> parts{};
  constexpr std::array<std::size_t, 7> kWidths{4, 2, 2, 2, 2, 2, 3};
  constexpr std::array<char, 7> kSigns{'-', '-', 'T', ':', ':', '.', 'Z'}; // after each part
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (!take_number(rest, kWidths[i], parts[i]))
      return std::nullopt;
    if (i == 5 && rest == "Z")
      break; // no milliseconds
    if (!take_sign(rest, kSigns[i]))
      return std::nullopt;
  }
  const chrono::year_month_day date{chrono::year(parts[0]),
                                    chrono::month(static_cast<unsigned>(parts[1])),
                                    chrono::day(static_cast<unsigned>(parts[2]))};
  if (!date.ok() || parts[3] > 23 || parts[4] > 59 || parts[5] > 59 ||
      (rest != "Z" && !rest.empty()))
    return std::nullopt;
  const auto time = chrono::sys_days(date) + chrono::hours(parts[3]) + chrono::minutes(parts[4]) +
                    chrono::seconds(parts[5]) + chrono::milliseconds(parts[6]);
  return Instant{chrono::duration_cast<chrono::milliseconds>(time.time_since_epoch()).count()};
}

} // namespace whirler::notebook
