#include "stored_coats.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <ctime>
#include <filesystem>

namespace whirler::cli {
namespace {

/// Digits at the front of `text`, which is shortened by them and by `sign` after them.
bool take(std::string_view& text, std::size_t width, std::string_view signs, int& value) {
  const char* begin = text.data();
  if (text.size() < width || std::from_chars(begin, begin + width, value).ptr != begin + width)
    return false;
  text.remove_prefix(width);
  if (signs.empty() || text.empty())
    return text.empty() == signs.empty();
  if (signs.find(text.front()) == std::string_view::npos)
    return false;
  text.remove_prefix(1);
  return true;
}

} // namespace

Result<std::string> notebook_path(const Context& context) {
  if (!context.notebook.empty())
    return context.notebook;
  return notebook::default_path();
}

Result<notebook::Notebook> notebook_to_read(const std::string& named) {
  if (!named.empty())
    return notebook::Notebook::open_to_read(named);
  const auto path = notebook::default_path();
  if (!path)
    return path.fault();
  return notebook::Notebook::open_to_read(*path);
}

Result<std::optional<notebook::Notebook>> look_into_notebook(const Context& context) {
  const auto path = notebook_path(context);
  if (!path)
    return path.fault();
  std::error_code error;
  if (context.notebook.empty() && !std::filesystem::exists(*path, error))
    return std::optional<notebook::Notebook>();
  auto notebook = notebook::Notebook::open_to_read(*path);
  if (!notebook)
    return notebook.fault();
  return std::optional(std::move(*notebook));
}

Result<notebook::Coat> stored_coat(const Context& context, std::optional<std::int64_t> number) {
  auto notebook = look_into_notebook(context);
  if (!notebook)
    return notebook.fault();
  if (!*notebook)
    return input_fault("there are no coats yet", "", "run one with: whirler run");
  if (number)
    return (*notebook)->coat(*number);
  const auto newest = (*notebook)->newest();
  if (!newest)
    return newest.fault();
  return (*notebook)->coat(*newest);
}

std::string local_time(notebook::Instant instant) {
  const std::time_t seconds = instant.unix_ms / 1000 - (instant.unix_ms % 1000 < 0 ? 1 : 0);
  std::tm parts{};
  if (localtime_r(&seconds, &parts) == nullptr)
    return notebook::instant_text(instant);
  std::string text = "0000-00-00 00:00"; // strftime takes five times as long, and a log is long
  const auto put = [&](std::size_t end, int value) {
    for (; value > 0; value /= 10)
      text[--end] = static_cast<char>('0' + value % 10);
  };
  put(4, std::clamp(parts.tm_year + 1900, 0, 9999));
  put(7, parts.tm_mon + 1);
  put(10, parts.tm_mday);
  put(13, parts.tm_hour);
  put(16, parts.tm_min);
  return text;
}

std::string seconds_text(Duration time) {
  const std::string hundredths = std::to_string(std::llround(std::abs(time.s()) * 100.0));
  const std::string padded =
      std::string(hundredths.size() < 3 ? 3 - hundredths.size() : 0, '0') + hundredths;
  return (time.s() <= -0.005 ? "-" : "") + padded.substr(0, padded.size() - 2) + "." +
         padded.substr(padded.size() - 2) + " s";
}

std::optional<notebook::Instant> from_local_time(const std::string& text) {
  std::string_view rest = text;
  int year = 0;
  int month = 0;
  std::tm parts{};
  if (!take(rest, 4, "-", year) || !take(rest, 2, "-", month))
    return std::nullopt;
  const bool date_only = rest.size() == 2;
  if (!take(rest, 2, date_only ? "" : " T", parts.tm_mday))
    return std::nullopt;
  if (!date_only && (!take(rest, 2, ":", parts.tm_hour) || !take(rest, 2, "", parts.tm_min)))
    return std::nullopt;
  parts.tm_year = year - 1900;
  parts.tm_mon = month - 1;
  parts.tm_isdst = -1;
  const std::tm asked = parts;
  const std::time_t seconds = std::mktime(&parts); // puts a 30 February right: then it is no date
  if (parts.tm_mday != asked.tm_mday || parts.tm_mon != asked.tm_mon || asked.tm_hour > 23 ||
      asked.tm_min > 59)
    return std::nullopt;
  return notebook::Instant{std::int64_t{seconds} * 1000};
}

} // namespace whirler::cli
