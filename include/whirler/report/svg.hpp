// Drawings as SVG text, without a library: lines, areas, dots and words.
//
// Marks differ by dash, shape and a word beside them, never by colour alone, and no colour has blue
// in it: a screen that shows them beside a wet plate stays red and amber. On paper all is black on
// white with one dark red. Colours are kept in one style sheet and named by class, so that a page
// can put many drawings under a style sheet of its own.
//
// Coordinates are in the drawing's own units (1/96 inch when printed at full size), x to the right,
// y down, as SVG has them. They are bare numbers: they measure paper, nothing of the workshop.
#pragma once

#include <span>
#include <string>
#include <string_view>

namespace whirler::report {

struct Xy {
  double x = 0.0;
  double y = 0.0;
};

/// Text made safe for XML and HTML: the five special characters, and everything that XML 1.0 does
/// not allow (control characters, broken UTF-8), the latter as U+FFFD.
[[nodiscard]] std::string escaped(std::string_view text);

/// Looks: the classes of the style sheet.
enum class Look {
  ink,    ///< the main line
  second, ///< dashed
  third,  ///< dotted
  grid,   ///< thin and pale
  axis,   ///< thin and dark
  limit,  ///< long dashes, red
  band,   ///< pale area
  plate,  ///< area with an edge
  hole,   ///< area of paper with an edge
  dot,    ///< filled
  ring,   ///< hollow
  heavy,  ///< thick, red
  watch,  ///< dashes and dots in turn, red: a limit that warns
  paper,  ///< area of bare paper, for words over lines
};

enum class Words { label, small, title };
enum class Anchor { start, middle, end };

class Drawing {
 public:
  /// `title` is read out by programs that read pages aloud.
  Drawing(double width, double height, std::string title);

  void line(Xy from, Xy to, Look look);
  void polyline(std::span<const Xy> points, Look look);
  void polygon(std::span<const Xy> points, Look look);
  void circle(Xy centre, double radius, Look look);
  /// Turned clockwise on paper by `turn_deg`.
  void ellipse(Xy centre, double half_x, double half_y, double turn_deg, Look look);
  /// A line with a head at `to`, smaller where the line is short.
  void arrow(Xy from, Xy to, Look look);
  void text(Xy at, std::string_view words, Words size = Words::label,
            Anchor anchor = Anchor::start);
  /// Upwards along the left edge of what it names.
  void text_upwards(Xy middle, std::string_view words);

  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }
  /// To be put into a page that has `style_sheet()` or its own rules for the classes.
  [[nodiscard]] std::string for_page() const;
  /// A file of its own: black on white.
  [[nodiscard]] std::string file() const;

 private:
  [[nodiscard]] std::string markup(std::string_view style) const;

  double width_;
  double height_;
  std::string title_;
  std::string body_;
};

/// Rules for the classes: on paper black on white; on a screen amber on black where
/// `amber_screen`, else as on paper.
[[nodiscard]] std::string style_sheet(bool amber_screen);

/// A guess at how wide the words will be.
[[nodiscard]] double width_of(std::string_view words, Words size);

} // namespace whirler::report
