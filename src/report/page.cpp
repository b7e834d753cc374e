#include "whirler/report/page.hpp"

#include <array>

namespace whirler::report {
namespace {

constexpr std::string_view kRules =
    "html{background:var(--paper);color:var(--ink);font:15px/1.4 'DejaVu Sans',Verdana,Arial,"
    "sans-serif}body{max-width:46em;margin:1.5em auto;padding:0 1em}h1{font-size:1.6em;margin:0}"
    "h2{font-size:1.15em;margin:1.4em 0 .4em;border-bottom:1px solid var(--pale)}"
    "p{margin:.3em 0}.below{margin-bottom:1em}"
    ".headline{border:2px solid var(--ink);margin:.5em 0;padding:.4em .7em}"
    ".headline b{font-size:1.5em}.headline.stop,.headline.watch{border-width:4px}"
    ".headline.stop{border-color:var(--red)}.headline.unknown{border-style:dashed}"
    ".cautions{border-left:6px double var(--red);padding-left:.8em;margin:1em 0}"
    "table{border-collapse:collapse;margin:.4em 0}"
    "td{padding:.12em 1.2em .12em 0;vertical-align:top}td+td{font-weight:bold}"
    ".rows{font-size:.85em}.rows td,.rows th{padding:.12em .9em .12em 0;font-weight:normal;"
    "text-align:left;vertical-align:bottom;border-bottom:1px solid var(--pale)}"
    ".rows td:nth-child(-n+2){white-space:nowrap}" // a number and a date are not broken
    "svg.d{max-width:100%;height:auto;display:block;margin:.6em 0}"
    ".foot{margin-top:2em;font-size:.85em}"
    "@page{size:A4;margin:14mm}"
    "@media print{html{font-size:10.5pt}body{margin:0;padding:0;max-width:none}"
    "h1,h2,.below{break-after:avoid}.headline,.cautions,svg.d,table,tr{break-inside:avoid}"
    ".rows{break-inside:auto}}";

std::string element(std::string_view tag, std::string_view classes, std::string_view text) {
  std::string made = "<" + std::string(tag);
  if (!classes.empty())
    made += " class=\"" + std::string(classes) + "\"";
  return made + ">" + escaped(text) + "</" + std::string(tag) + ">\n";
}

struct ToneLook {
  std::string_view classes;
  std::string_view mark;
};

ToneLook look_of(Tone tone) {
  constexpr std::array<ToneLook, 4> kLooks{{{"good", "\u2714"},      // check mark
                                            {"watch", "\u25B2"},     // triangle
                                            {"stop", "\u25A0"},      // square
                                            {"unknown", "\u003F"}}}; // question mark
  return kLooks[static_cast<std::size_t>(tone)];
}

std::string headline_html(const Headline& headline) {
  const ToneLook look = look_of(headline.tone);
  std::string made = "<div class=\"headline " + std::string(look.classes) + "\">\n";
  made += "<p>" + escaped(headline.about) + ": <b>" + std::string(look.mark) + " " +
          escaped(headline.word) + "</b></p>\n";
  if (!headline.sentence.empty())
    made += element("p", "", headline.sentence);
  return made + "</div>\n";
}

std::string cautions_html(const std::vector<std::string>& cautions) {
  if (cautions.empty())
    return {};
  std::string made = "<div class=\"cautions\">\n";
  for (const std::string& caution : cautions)
    made += element("p", "", "Caution: " + caution);
  return made + "</div>\n";
}

std::string row_html(const std::vector<std::string>& cells, std::string_view tag) {
  std::string made = "<tr>";
  for (const std::string& cell : cells)
    made += "<" + std::string(tag) + ">" + escaped(cell) + "</" + std::string(tag) + ">";
  return made + "</tr>\n";
}

std::string table_html(const Table& table) {
  if (table.rows.empty())
    return {};
  std::string made = "<table class=\"rows\">\n<thead>" + row_html(table.header, "th") +
                     "</thead>\n<tbody>\n"; // printed again on each sheet
  for (const auto& row : table.rows)
    made += row_html(row, "td");
  return made + "</tbody>\n</table>\n";
}

std::string section_html(const Section& section) {
  std::string made = "<section>\n" + element("h2", "", section.title);
  for (const std::string& line : section.lines)
    made += element("p", "", line);
  if (!section.facts.empty()) {
    made += "<table>\n";
    for (const Fact& fact : section.facts)
      made += "<tr><td>" + escaped(fact.name) + "</td><td>" + escaped(fact.value) + "</td></tr>\n";
    made += "</table>\n";
  }
  for (const Drawing& drawing : section.drawings)
    made += drawing.for_page();
  made += table_html(section.table);
  return made + "</section>\n";
}

} // namespace

std::string html(const Page& page) {
  std::string made = "<!DOCTYPE html>\n"
                     "<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n"
                     "<meta charset=\"utf-8\"/>\n"
                     "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n";
  made += element("title", "", page.title);
  made += "<style>" + style_sheet(true) + std::string(kRules) + "</style>\n</head>\n<body>\n";
  made += element("h1", "", page.title);
  if (!page.below_title.empty())
    made += element("p", "below", page.below_title);
  for (const Headline& headline : page.headlines)
    made += headline_html(headline);
  made += cautions_html(page.cautions);
  for (const Section& section : page.sections)
    made += section_html(section);
  if (!page.foot.empty())
    made += element("p", "foot", page.foot);
  return made + "</body>\n</html>\n";
}

} // namespace whirler::report
