// A page for people: one HTML file that needs nothing else, on screen or on A4 paper.
//
// Verdicts in words come first and large, cautions second, figures and drawings after. No script,
// no font, no picture from elsewhere, no date of its own: the same coat gives the same bytes. On a
// screen amber on black, since the page may be read beside a wet plate; on paper black on white.
#pragma once

#include "whirler/report/svg.hpp"

#include <string>
#include <vector>

namespace whirler::report {

/// How a verdict looks, by shape as well as colour.
enum class Tone { good, watch, stop, unknown };

struct Headline {
  Tone tone = Tone::unknown;
  std::string about;    ///< "Vibration"
  std::string word;     ///< "even"
  std::string sentence; ///< why, and what to do
};

struct Fact {
  std::string name;
  std::string value;
};

/// Rows of as many cells as the header has.
struct Table {
  std::vector<std::string> header;
  std::vector<std::vector<std::string>> rows;
};

struct Section {
  std::string title;
  std::vector<std::string> lines;
  std::vector<Fact> facts;
  std::vector<Drawing> drawings;
  Table table{};
};

struct Page {
  std::string title;
  std::string below_title;
  std::vector<Headline> headlines;
  std::vector<std::string> cautions;
  std::vector<Section> sections;
  std::string foot;
};

/// Every text is escaped. A well-formed XML document after its first line, too.
[[nodiscard]] std::string html(const Page& page);

} // namespace whirler::report
