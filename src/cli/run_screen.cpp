#include "run_screen.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
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
    return progress.state == run::State::dwelling ? "once per turn: -  not watched"
                                                  : "once per turn: -";
  const auto& jitter = *progress.jitter;
  std::string text = "once per turn: " + number_text(jitter.amplitude.mrad(), 2);
  if (jitter.pattern_known)
    text += " ± " + number_text(jitter.half_width.mrad(), 1) + " mrad";
  else
    text += " mrad, marks and plate";
  if (jitter.limit)
    text += " (stop at " + number_text(jitter.limit->mrad(), 2) + ")";
  std::string verdict = jitter.verdict;
  std::replace(verdict.begin(), verdict.end(), '_', ' ');
  if (jitter.limit && jitter.verdict == "cannot_tell")
    verdict += ": nothing is stopped";
  return text + "  " + verdict;
}

std::string hands_text(const session::Progress& progress) {
  return progress.may_be_turning ? "KEEP THE LID SHUT" : "at rest";
}

/// "2998 of 3000 rpm  left 01:32".
std::string small_figures(const session::Progress& progress) {
  return whole(progress.speed.rpm()) + " of " + whole(progress.target.rpm()) + " rpm  left " +
         clock_text(progress.left);
}

/// Whether a byte of UTF-8 begins a character; all of ours are one column wide.
bool begins(char byte) { return (static_cast<unsigned char>(byte) & 0xC0U) != 0x80U; }

std::size_t width(const std::string& text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), begins));
}

/// Its first so many characters.
std::string clipped(const std::string& text, std::size_t columns) {
  std::size_t seen = 0;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (begins(text[i]) && ++seen > columns)
      return text.substr(0, i);
  return text;
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

std::vector<std::string> screen_lines(const session::Progress& progress, bool colour,
                                      ScreenSize size) {
  const bool wrong = progress.jitter && progress.jitter->verdict == "stop";
  const bool open = progress.lid == run::LidState::open;
  const auto warn = open || progress.may_be_turning ? kRed : kAmber;
  const auto line = [&](const std::string& text, std::string_view tint) {
    return tinted(clipped(text, size.columns), tint, colour);
  };
  const std::string step = step_text(progress);
  const std::string lid = lid_text(progress.lid) + "   " + hands_text(progress);
  const auto figures =
      large(padded(whole(progress.speed.rpm()), 5) + "  " + clock_text(progress.left));
  std::vector<std::string> lines;
  if (width(figures.front()) > size.columns || figures.size() + 4 >= size.rows) {
    lines = {line(hands_text(progress) + "   " + lid_text(progress.lid), warn),
             line(small_figures(progress), kAmber), line(step, kAmber),
             line(jitter_text(progress), wrong ? kRed : kAmber)};
    lines.resize(std::clamp<std::size_t>(size.rows, 2, lines.size() + 1) - 1);
    return lines;
  }
  lines.push_back(line(step, kAmber));
  for (const auto& row : figures)
    lines.push_back(line(row, kAmber));
  lines.push_back(line("rpm, target " + whole(progress.target.rpm()) + "   time left", kAmber));
  lines.push_back(line(jitter_text(progress), wrong ? kRed : kAmber));
  lines.push_back(line(lid, warn));
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
         step_text(progress) + "  " + small_figures(progress) + "  " + lid_text(progress.lid) +
         "  " + jitter_text(progress);
}

} // namespace whirler::cli
