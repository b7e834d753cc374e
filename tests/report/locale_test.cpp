// Numbers are written with a point and without groups, whatever a program has made its locale.
#include "catch.hpp"
#include "whirler/notebook/coat_text.hpp"
#include "whirler/report/chart.hpp"

#include <locale>
#include <sstream>

using namespace whirler;
using namespace whirler::report;

namespace {

/// 1234567.5 as "1.234.567,5".
class Commas : public std::numpunct<char> {
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return "\3"; }
};

class CommaLocale {
 public:
  CommaLocale() : before_(std::locale::global(std::locale(std::locale::classic(), new Commas))) {}
  CommaLocale(const CommaLocale&) = delete;
  CommaLocale& operator=(const CommaLocale&) = delete;
  ~CommaLocale() { std::locale::global(before_); }

 private:
  std::locale before_;
};

std::string a_chart() {
  Chart chart;
  chart.title = "t";
  chart.lines = {{"l", {{0.25, 12345.5}, {3.75, 54321.25}}, Look::ink}};
  return draw(chart).for_page();
}

std::string a_coat() {
  notebook::Coat coat;
  coat.start.started = {1709217000250};
  coat.start.tick = microseconds(0.5);
  for (std::int64_t i = 0; i < 5; ++i)
    coat.pulses.ticks.push_back(1234567 * i);
  coat.samples = {{seconds(1234.5), rpm(1500.25), rpm(1500.5), seconds(1234.25), 0.125, 0}};
  coat.end = notebook::CoatEnd{"done", "", "", "", seconds(1234.75)};
  const auto texts = notebook::texts_of(coat);
  return texts.coat + texts.pulses + texts.samples;
}

} // namespace

TEST_CASE("exact: a chart and an exported coat are the same bytes in a locale of commas") {
  const std::string chart = a_chart();
  const std::string coat = a_coat();
  std::string said;
  {
    const CommaLocale here;
    std::ostringstream text;
    text << 1234567.5;
    said = text.str(); // the locale is in force
    CHECK(a_chart() == chart);
    CHECK(a_coat() == coat);
  }
  CHECK_THAT(said, Catch::Matchers::ContainsSubstring(","));
}
