#include "polar_key.hpp"

#include "whirler/units/text.hpp"

#include <sstream>

namespace whirler::report {
namespace {

constexpr double kLeft = 20.0;
constexpr double kSample = 28.0;
constexpr double kWords = kLeft + kSample + 8.0;

/// Words over as many rows as they need, the sample before the first.
void add(std::vector<KeyRow>& rows, KeyRow row, double width) {
  const double room = 1.08 * (width - kWords); // width_of is a careful guess
  std::istringstream words(row.words);
  row.words.clear();
  for (std::string word; words >> word;) {
    const std::string longer = row.words.empty() ? word : row.words + " " + word;
    if (width_of(longer, Words::small) <= room) {
      row.words = longer;
      continue;
    }
    rows.push_back(row);
    row = {KeyRow::Sample::none, row.look, word};
  }
  rows.push_back(row);
}

std::string angles_words(const PolarPlot& plot) {
  const std::string words = "Seen from above. Sizes in " + plot.unit +
                            ", angles in deg from the index mark, with the rotation";
  if (!plot.clockwise)
    return words + "; which way that is, no machine's file says here: drawn clockwise.";
  return words + (*plot.clockwise ? ": clockwise." : ": counter-clockwise.");
}

std::string vector_words(const PolarPlot& plot, const PolarVector& v) {
  return v.name + ": " + number_text(v.size) + " " + plot.unit + " at " + number_text(v.at.deg()) +
         " deg" + (v.ellipse ? " (ellipse: 95 % sure)" : "");
}

std::string marks_words(const PolarPlot& plot) {
  std::string words;
  for (const PolarMark& mark : plot.marks)
    words += (words.empty() ? plot.marks_name + ": " : ", ") + mark.name + " at " +
             number_text(mark.at.deg(), 4) + " deg";
  return words;
}

void draw_sample(Drawing& drawing, const KeyRow& row, Xy at) {
  const Xy end{at.x + kSample, at.y};
  const Xy middle{at.x + kSample / 2.0, at.y};
  if (row.sample == KeyRow::Sample::arrow)
    drawing.arrow(at, end, row.look);
  else if (row.sample == KeyRow::Sample::line)
    drawing.line(at, end, row.look);
  else if (row.sample != KeyRow::Sample::none)
    drawing.circle(middle, 2.5, row.sample == KeyRow::Sample::dot ? Look::dot : row.look);
}

} // namespace

std::vector<KeyRow> key_rows(const PolarPlot& plot, double widest, double dot) {
  using Sample = KeyRow::Sample;
  std::vector<KeyRow> rows;
  add(rows, {Sample::none, Look::ink, angles_words(plot)}, plot.size);
  for (const PolarVector& v : plot.vectors)
    add(rows, {v.size > dot ? Sample::arrow : Sample::dot, v.look, vector_words(plot, v)},
        plot.size);
  if (!plot.points.empty())
    add(rows, {Sample::ring, Look::ring, plot.points_name}, plot.size);
  if (!plot.marks.empty())
    add(rows, {Sample::ring, Look::hole, marks_words(plot)}, plot.size);
  for (const PolarCircle& limit : plot.limits) {
    const std::string words = limit.name + ": " + number_text(limit.radius) + " " + plot.unit;
    if (limit.radius <= widest)
      add(rows, {Sample::line, limit.look, words}, plot.size);
    else
      add(rows, {Sample::none, limit.look, words + ", far outside this drawing"}, plot.size);
  }
  return rows;
}

void draw_key(Drawing& drawing, const std::vector<KeyRow>& rows, double top) {
  Xy at{kLeft, top};
  for (const KeyRow& row : rows) {
    draw_sample(drawing, row, {at.x, at.y - 4.0});
    drawing.text({kWords, at.y}, row.words, Words::small);
    at.y += kKeyRow;
  }
}

} // namespace whirler::report
