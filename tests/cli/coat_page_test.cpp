#include "catch.hpp"
#include "report/xml_check.hpp"
#include "run_program.hpp"
#include "whirler/notebook/notebook.hpp"

#include <algorithm>
#include <cmath>

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;
using whirler::report::xml_fault;

namespace {

constexpr auto kBlank = R"({"kind":"blank","format":1,"name":"Plate <A>",
  "outline":{"rectangle_mm":[100,80]},"thickness_mm":1.6,"copper_um":[35,35],
  "hole":{"diameter_mm":4.2,"at_mm":[0.6,-0.3]}})";
constexpr auto kResist = R"({"kind":"resist","format":1,"name":"Thin positive",
  "viscosity_mPa_s":25,"density_g_cm3":1.0,"solids_mass_fraction":0.36,
  "solids_density_g_cm3":1.2,"solvent":"pgmea"})";

/// 5 s at 500 rpm and 30 s at 3000 rpm, ten reports a second, hunting by 5 rpm.
notebook::Coat two_step() {
  notebook::Coat coat;
  coat.number = 12;
  coat.uid = "0123456789abcdef";
  coat.state = notebook::CoatState::finished;
  coat.start.started = {1714550000000};
  coat.start.board = "B-7 & co";
  coat.start.files = {{"blank", "b.json", kBlank}, {"resist", "r.json", kResist}};
  for (int i = 0; i <= 420; ++i) {
    const double t = 0.1 * i;
    const double target = t < 5.0    ? std::min(500.0, 500.0 * t)
                          : t < 7.5  ? 500.0 + 1000.0 * (t - 5.0)
                          : t < 38.0 ? 3000.0
                                     : std::max(0.0, 3000.0 - 1000.0 * (t - 38.0));
    coat.samples.push_back({seconds(t), rpm(target > 0.0 ? target + 5.0 * std::sin(9.0 * t) : 0.0),
                            rpm(target), seconds(t), 0.4, 0});
  }
  coat.events = {{seconds(0.0), "armed"}, {seconds(7.5), "dwell </td>"}};
  coat.end = notebook::CoatEnd{"done", "", "even", "", seconds(42.0)};
  return coat;
}

/// The page of this coat, through a notebook and the program.
std::string page_of(const notebook::Coat& coat) {
  const TestFolder folder;
  std::int64_t number = 0;
  {
    auto notebook = notebook::Notebook::open(folder.path("book.db"));
    REQUIRE(notebook.ok());
    const auto added = notebook->add(coat);
    REQUIRE(added.ok());
    number = *added;
  }
  const auto said = run_program("report " + std::to_string(number) + " --output - --notebook " +
                                folder.path("book.db"));
  CAPTURE(said.err);
  REQUIRE(said.status == 0);
  return said.out;
}

/// The dry film on the page, um.
double dry_film_um(const std::string& page) {
  const auto at = page.find("Dry film</td><td>");
  REQUIRE(at != std::string::npos);
  return std::stod(page.substr(at + 17));
}

std::string after_doctype(const std::string& text) { return text.substr(text.find('\n') + 1); }

} // namespace

TEST_CASE("report: a coat's page is well-formed, says its verdicts first, and is the same again") {
  const std::string page = page_of(two_step());
  CHECK(xml_fault(after_doctype(page)).empty());
  const auto run = page.find("\xE2\x9C\x94 completed");
  const auto even = page.find("\xE2\x9C\x94 even");
  REQUIRE(run != std::string::npos);
  REQUIRE(even != std::string::npos);
  CHECK(even < page.find("<svg"));
  for (const char* words : {"Coat ", "B-7 &amp; co", "2024-05-01 07:53 UTC", "Thin positive",
                            "Plate &lt;A&gt;", "dwell &lt;/td&gt;", "Film over time", "heavy side"})
    CHECK_THAT(page, ContainsSubstring(words));
}

TEST_CASE("report: an ordinary coat has its film over the radius, flat, and says why; without a "
          "blank the page says why there is none") {
  const std::string page = page_of(two_step());
  CHECK_THAT(page, ContainsSubstring("Film over the radius</") &&
                       ContainsSubstring("even, centre to edge") &&
                       ContainsSubstring("Over the radius: "));
  notebook::Coat no_blank = two_step();
  no_blank.start.files.erase(no_blank.start.files.begin());
  const std::string without = page_of(no_blank);
  CHECK_THAT(without, !ContainsSubstring("from the axis, mm"));
  CHECK_THAT(without, ContainsSubstring("Film over the radius is not drawn"));
}

TEST_CASE("report: the film is worked out from the speed that was run") {
  const double asked_and_run = dry_film_um(page_of(two_step()));
  CHECK(asked_and_run > 0.8);
  CHECK(asked_and_run < 4.0);
  notebook::Coat slower = two_step();
  for (notebook::Sample& sample : slower.samples)
    sample.speed = std::min(sample.speed, rpm(1500.0)); // asked as before
  CHECK(dry_film_um(page_of(slower)) > 1.2 * asked_and_run);
}

TEST_CASE("report: boards measured by the day of the coat move its film, and the page says so") {
  const std::string label = page_of(two_step());
  CHECK_THAT(label, !ContainsSubstring("Factor by measured boards"));
  notebook::Coat measured = two_step();
  measured.start.files.push_back(
      {"calibration", "r.calibration.json",
       R"({"kind":"calibration","format":1,"resist":"Thin positive","boards":[
         {"speed_rpm":3000,"thickness_um":1.7,"temperature_C":25}]})"});
  const std::string page = page_of(measured);
  CHECK_THAT(page, ContainsSubstring("Factor by measured boards"));
  CHECK(dry_film_um(page) < 0.95 * dry_film_um(label));
}

TEST_CASE(
    "report: a coat that broke off, is empty, or kept files of another time still has a page") {
  notebook::Coat broken = two_step();
  broken.end.reset();
  broken.state = notebook::CoatState::broken_off;
  CHECK_THAT(page_of(broken), ContainsSubstring("broken off"));
  notebook::Coat empty;
  empty.uid = "00000000000000aa";
  CHECK(xml_fault(after_doctype(page_of(empty))).empty());
  notebook::Coat old = two_step();
  old.start.files[0].text = "{\"kind\":\"blank\",\"format\":99}";
  const std::string page = page_of(old);
  CHECK(xml_fault(after_doctype(page)).empty());
  CHECK_THAT(page, ContainsSubstring("The kept blank cannot be read"));
  CHECK_THAT(page, ContainsSubstring("Film over time"));
  notebook::Coat stopped = two_step();
  stopped.end->outcome = "tach_lost";
  stopped.end->verdict = "cannot_tell";
  CHECK_THAT(page_of(stopped), ContainsSubstring("ended early: tach lost"));
}

TEST_CASE("report: the command writes the page of a stored coat, the same bytes each time") {
  const TestFolder folder;
  const std::string book = folder.path("book.db");
  std::int64_t number = 0;
  {
    auto notebook = notebook::Notebook::open(book);
    REQUIRE(notebook.ok());
    const auto added = notebook->add(two_step());
    REQUIRE(added.ok());
    number = *added;
  }
  const std::string words = "report " + std::to_string(number) + " --notebook " + book;
  REQUIRE(run_program(words + " --output " + folder.path("a.html")).status == 0);
  REQUIRE(run_program(words + " --json --output " + folder.path("b.html")).status == 0);
  CHECK(folder.read("a.html") == folder.read("b.html"));
  CHECK(xml_fault(after_doctype(folder.read("a.html"))).empty());
  CHECK(run_program(words + " --output -").out == folder.read("a.html"));
  CHECK(run_program("report 99 --notebook " + book).status == 3);
  CHECK(run_program("report 1 --notebook " + folder.path("none.db")).status == 3);
  CHECK(run_program("report x --notebook " + book).status == 2);
}
