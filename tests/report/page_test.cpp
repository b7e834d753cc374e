#include "catch.hpp"
#include "whirler/report/chart.hpp"
#include "whirler/report/page.hpp"
#include "xml_check.hpp"

using namespace whirler::report;
using Catch::Matchers::ContainsSubstring;

namespace {

Page page_of(const std::string& words) {
  Page page;
  page.title = words;
  page.below_title = words;
  page.headlines = {{Tone::stop, words, words, words}, {Tone::good, "Film", "set", ""}};
  page.cautions = {words};
  Chart chart;
  chart.title = words;
  page.sections = {{words, {words}, {{words, words}}, {draw(chart)}}};
  page.foot = words;
  return page;
}

/// The document after its first line, which is HTML's own.
std::string after_doctype(const std::string& text) {
  REQUIRE(text.starts_with("<!DOCTYPE html>\n"));
  return text.substr(text.find('\n') + 1);
}

} // namespace

TEST_CASE("a page is well-formed whatever its words are, and they stay words") {
  for (const std::string words :
       {"plain", "</style><script>x()</script>", "a & b < c \"d\" 'e'", "Größe µm ✓", "\x01\xFF"}) {
    CAPTURE(words);
    const std::string text = html(page_of(words));
    CHECK(xml_fault(after_doctype(text)).empty());
    CHECK_THAT(text, !ContainsSubstring("<script"));
  }
}

TEST_CASE("a page needs nothing from elsewhere") {
  const std::string text = html(page_of("x"));
  for (const char* reach : {"src=", "href=", "url(", "@import", "<script", "<link"})
    CHECK_THAT(text, !ContainsSubstring(reach));
}

TEST_CASE("verdicts come first, then cautions, then figures") {
  const std::string text = html(page_of("words"));
  const auto verdict = text.find("class=\"headline stop\"");
  const auto caution = text.find("class=\"cautions\"");
  const auto section = text.find("<section>");
  REQUIRE(verdict != std::string::npos);
  CHECK(verdict < caution);
  CHECK(caution < section);
  CHECK(html(page_of("words")) == text); // the same bytes again
}
