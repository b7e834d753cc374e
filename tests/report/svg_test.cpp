#include "catch.hpp"
#include "whirler/report/chart.hpp"
#include "whirler/report/svg.hpp"
#include "xml_check.hpp"

#include <cmath>
#include <limits>

using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

TEST_CASE("the check of well-formed XML finds what is not") {
  CHECK(xml_fault("<a b=\"1\"><c/>text &amp; more</a>").empty());
  for (const char* broken :
       {"<a>", "<a></b>", "<a b=1/>", "<a b=\"1\" b=\"2\"/>", "<a>&</a>", "<a>&nbsp;</a>",
        "<a b=\"<\"/>", "<a/><a/>", "<a", "text", "<a>\x01</a>"}) {
    CAPTURE(broken);
    CHECK_FALSE(xml_fault(broken).empty());
  }
}

TEST_CASE("words are made safe for XML, whatever bytes they hold") {
  CHECK(escaped("a<b>&\"'") == "a&lt;b&gt;&amp;&quot;&#39;");
  CHECK(escaped("Plättchen 1,5 µm ✓ 𝛼") == "Plättchen 1,5 µm ✓ 𝛼");
  const std::string no = "\xEF\xBF\xBD";
  CHECK(escaped(std::string("a\x01z\0q", 5)) == "a" + no + "z" + no + "q");
  CHECK(escaped("\xFFz") == no + "z");
  CHECK(escaped("\xC3") == no);
  CHECK(escaped("\xC0\xAF") == no + no);          // '/' written overlong
  CHECK(escaped("\xED\xA0\x80") == no + no + no); // half of a surrogate pair
  CHECK(escaped("\xEF\xBF\xBF") == no + no + no);
  CHECK(escaped("\xF4\x90\x80\x80") == no + no + no + no); // past the last code point
}

TEST_CASE("a drawing is well-formed, as a file and in a page, with hostile words and numbers") {
  Drawing drawing(200.0, 100.0, "</title><script>alert(1)</script>");
  const double nan = std::numeric_limits<double>::quiet_NaN();
  drawing.text({1.0, nan}, "\"<&>'\x02", Words::title, Anchor::end);
  drawing.text_upwards({1.0, 2.0}, "<");
  drawing.line({0.0, 0.0}, {1e300, -1e300}, Look::limit);
  drawing.arrow({0.0, 0.0}, {0.0, 0.0}, Look::ink);
  drawing.arrow({0.0, 0.0}, {10.0, 0.0}, Look::heavy);
  drawing.ellipse({5.0, 5.0}, 3.0, 2.0, 30.0, Look::axis);
  CHECK(xml_fault(drawing.file()).empty());
  CHECK(xml_fault(drawing.for_page()).empty());
  CHECK_THAT(drawing.file(), !ContainsSubstring("<script"));
  CHECK_THAT(drawing.file(), !ContainsSubstring("nan"));
  CHECK_THAT(drawing.file(), !ContainsSubstring("var("));
}

TEST_CASE("no colour on a screen beside a wet plate has blue in it") {
  const std::string rules = style_sheet(true);
  const auto screen = rules.find("@media screen");
  REQUIRE(screen != std::string::npos);
  const auto end = rules.find("}}", screen);
  int colours = 0;
  for (auto at = rules.find('#', screen); at < end; at = rules.find('#', at + 1)) {
    const auto stop = rules.find_first_of(";}", at);
    const std::string colour = rules.substr(at + 1, stop - at - 1);
    CAPTURE(colour);
    const std::string blue = colour.size() == 3 ? colour.substr(2) : colour.substr(4);
    CHECK(blue.find_first_not_of('0') == std::string::npos);
    ++colours;
  }
  CHECK(colours == 5);
  CHECK_THAT(style_sheet(false), !ContainsSubstring("@media screen"));
}
