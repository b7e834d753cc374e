#include "run_screen.hpp"

#include "whirler/units/text.hpp"

#include <array>
#include <cmath>
#include <cstdio>
#include <string_view>

namespace whirler::cli {
namespace {

constexpr std::size_t kRows = 5;
using Glyph = std::array<std::string_view, kRows>;

constexpr std::array<Glyph, 10> kDigits{{
    {"████", "█  █", "█  █", "█  █", "████"},
    {"  █ ", " ██ ", "  █ ", "  █ ", " ███"},
    {"████", "   █", "████", "█   ", "████"},
    {"████", "   █", " ███", "   █", "████"},
    {"█  █", "█  █", "████", "   █", "   █"},
    {"████", "█   ", "████", "   █", "████"},
    {"████", "█   ", "████", "█  █", "████"},
    {"████", "   █", "  █ ", " █  ", " █  "},
    {"████", "█  █", "████", "█  █", "████"},
    {"████", "█  █", "████", "   █", "████"},
}};
constexpr Glyph kColon{" ", "█", " ", "█", " "};
constexpr Glyph kPoint{" ", " ", " ", " ", "█"};
constexpr Glyph kDash{"   ", "   ", "███", "   ", "   "};
constexpr Glyph kBlank{"  ", "  ", "  ", "  ", "  "};

const Glyph* glyph(char c) {
  if (c >= '0' && c <= '9')
    return &kDigits.at(static_cast<std::size_t>(c - '0'));
  if (c == ':')
    return &kColon;
  if (c == '.')
    return &kPoint;
  if (c == '-')
    return &kDash;
  return c == ' ' ? &kBlank : nullptr;
}

constexpr std::string_view kAmber = "\x1b[33m";
constexpr std::string_view kRed = "\x1b[1;31m";
constexpr std::string_view kPlain = "\x1b[0m";

std::string tinted(const std::string& text, std::string_view colour, bool on) {
  return on ? std::string(colour) + text + std::string(kPlain) : text;
}

std::string clock_text(Duration time) {
  const long all = std::max(0L, std::lround(time.s()));
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%02ld:%02ld", all / 60, all % 60);
  return text.data();
}

std::string whole(double value) { return std::to_string(std::lround(value)); }

std::string padded(const std::string& text, std::size_t width) {
  return text.size() >= width ? text : std::string(width - text.size(), ' ') + text;
}

std::string lid_text(run::LidState lid) {
  switch (lid) {
  case run::LidState::closed:
    return "lid closed";
  case run::LidState::open:
    return "LID OPEN";
  case run::LidState::not_fitted:
    return "no lid switch";
  }
  return "";
}

std::string step_text(const session::Progress& progress) {
  std::string text = "step " + std::to_string(progress.step) + "/" + std::to_string(progress.steps);
  if (!progress.step_name.empty())
    text += " " + progress.step_name;
  return text + "  " + std::string(run::word(progress.state));
}

std::string jitter_text(const session::Progress& progress) {
  if (!progress.jitter)
    return "once per turn: -";
  const auto& jitter = *progress.jitter;
  std::string text = "once per turn: " + number_text(jitter.amplitude.mrad(), 2) + " ± " +
                     number_text(jitter.half_width.mrad(), 1) + " mrad";
  if (jitter.limit)
    text += " (stop at " + number_text(jitter.limit->mrad(), 2) + ")";
  return text + "  " + jitter.verdict;
}

std::string hands_text(const session::Progress& progress) {
  return progress.may_be_turning ? "KEEP THE LID SHUT" : "at rest";
}

} // namespace

std::vector<std::string> large(const std::string& text) {
  std::vector<std::string> rows(kRows);
  for (const char c : text)
    if (const Glyph* found = glyph(c))
      for (std::size_t row = 0; row < kRows; ++row)
        rows[row] += std::string((*found)[row]) + " ";
  return rows;
}

std::vector<std::string> screen_lines(const session::Progress& progress, bool colour) {
  std::vector<std::string> lines;
  lines.push_back(tinted(step_text(progress), kAmber, colour));
  const std::string speed = padded(whole(progress.speed.rpm()), 5);
  for (const auto& row : large(speed + "  " + clock_text(progress.left)))
    lines.push_back(tinted(row, kAmber, colour));
  lines.push_back(
      tinted("rpm, target " + whole(progress.target.rpm()) + "   time left", kAmber, colour));
  const bool wrong = progress.jitter && progress.jitter->verdict == "stop";
  lines.push_back(tinted(jitter_text(progress), wrong ? kRed : kAmber, colour));
  const bool open = progress.lid == run::LidState::open;
  lines.push_back(tinted(lid_text(progress.lid) + "   " + hands_text(progress),
                         open || progress.may_be_turning ? kRed : kAmber, colour));
  return lines;
}

std::vector<std::string> film_lines(Length film, bool colour) {
  std::vector<std::string> lines;
  for (const auto& row : large(number_text(film.um(), 3)))
    lines.push_back(tinted(row, kAmber, colour));
  lines.push_back(tinted("um, dry", kAmber, colour));
  return lines;
}

std::string plain_line(const session::Progress& progress) {
  return number_text(std::round(progress.elapsed.s() * 10.0) / 10.0, 6) + " s  " +
         step_text(progress) + "  " + whole(progress.speed.rpm()) + " of " +
         whole(progress.target.rpm()) + " rpm  left " + clock_text(progress.left) + "  " +
         lid_text(progress.lid) + "  " + jitter_text(progress);
}

} // namespace whirler::cli
