// Notes on coats, and the trend that they make.
#include "catch.hpp"
#include "report/xml_check.hpp"
#include "run_program.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kResist = R"({"kind":"resist","format":1,"name":"Ümber <2>",
  "viscosity_mPa_s":25,"density_g_cm3":1.0,"solids_mass_fraction":0.36,
  "solids_density_g_cm3":1.2,"solvent":"pgmea"})";

/// 30 s at a speed, of a resist, with what the run said of its jitter.
notebook::Coat coat_at(int id, double speed_rpm, double jitter_mrad, const std::string& verdict) {
  notebook::Coat coat;
  coat.uid = std::string(31, 'a') + std::to_string(id);
  coat.state = notebook::CoatState::finished;
  coat.start.started = {1714550000000 + id * 1000};
  coat.start.board = "gauge " + std::to_string(id);
  coat.start.resist = "Ümber <2>";
  coat.start.machine = "bench";
  coat.start.files = {{"resist", "r.json", kResist}};
  for (int i = 0; i <= 320; ++i)
    coat.samples.push_back({seconds(0.1 * i), rpm(std::min(speed_rpm, 300.0 * i)), rpm(speed_rpm),
                            seconds(0.1 * i), 0.4, 0});
  const nlohmann::json summary = {
      {"jitter",
       {{"once_per_turn",
         {{"amplitude_mrad", jitter_mrad},
          {"interval_mrad", {jitter_mrad - 0.1, jitter_mrad + 0.1}}}}}}};
  coat.end = notebook::CoatEnd{"done", "", verdict, summary.dump(), seconds(32.0)};
  return coat;
}

std::string book_of(const TestFolder& folder, int coats) {
  const std::string path = folder.path("bük.db");
  auto notebook = notebook::Notebook::open(path);
  REQUIRE(notebook.ok());
  for (int id = 1; id <= coats; ++id)
    REQUIRE(
        notebook->add(coat_at(id, 2000.0 + 250.0 * id, 0.5 * id, id == 3 ? "watch" : "even")).ok());
  return path;
}

Said run_on(const std::string& book, const std::string& words) {
  return run_program(words + " --notebook " + book);
}

} // namespace

TEST_CASE("note: what was wanted and measured is kept with the coat, the last word counts") {
  const TestFolder folder;
  const std::string book = book_of(folder, 1);
  REQUIRE(run_on(book, "note 1 --wanted 1.6um").status == 0);
  REQUIRE(run_on(book, "note 1 --measured 2.1um").status == 0);
  const Said said = run_on(book, "note 1 --measured 1600nm --text 'a cömet' --json");
  REQUIRE(said.status == 0);
  CHECK(said.json()["notes"][0]["document"]["measured_um"] == 1.6);
  const auto shown = run_on(book, "show 1 --json").json()["notes"];
  REQUIRE(shown.size() == 4);
  CHECK(shown[0]["kind"] == "thickness");
  CHECK(shown[3]["document"]["text"] == "a cömet");
  CHECK_THAT(run_on(book, "show 1").out, Catch::Matchers::ContainsSubstring("measured 1.6 um"));
  const auto row =
      run_on(book, "report --trend --json --output " + folder.path("t.html")).json()["coats"][0];
  CHECK(row["wanted_um"] == 1.6);
  CHECK(row["measured_um"] == 1.6);
}

TEST_CASE("note: nothing to note, no such coat, and no thickness are refused and kept nowhere") {
  const TestFolder folder;
  const std::string book = book_of(folder, 1);
  CHECK(run_on(book, "note 1").status == 2);
  CHECK(run_on(book, "note 1 --measured 0um").status == 2);
  CHECK(run_on(book, "note 1 --measured 1.6").status == 2);
  CHECK(run_on(book, "note 8 --measured 1.6um").status == 3);
  CHECK(run_on(folder.path("none.db"), "note 1 --measured 1.6um").status == 3);
  CHECK(run_on(book, "show 1 --json").json()["notes"].empty());
}

TEST_CASE("trend: the factor follows the measured boards, and its interval closes in") {
  const TestFolder folder;
  const std::string book = book_of(folder, 5);
  const std::string words = "report --trend --json --output " + folder.path("t.html");
  const auto before = run_on(book, words).json();
  REQUIRE(before["coats"].size() == 5);
  CHECK(before["factors"].empty());
  const double factor = 1.18; // every gauge reading is so far off the estimate
  double width = 10.0;
  for (std::size_t i = 0; i < 5; ++i) {
    const double estimated = before["coats"][i]["estimated_um"];
    CHECK(before["coats"][i]["interval_um"][0].get<double>() < estimated);
    if (i > 0) // faster is thinner
      CHECK(estimated < before["coats"][i - 1]["estimated_um"].get<double>());
    REQUIRE(run_on(book, "note " + std::to_string(i + 1) + " --measured " +
                             number_text(estimated * factor, 8) + "um")
                .status == 0);
    const auto learnt = run_on(book, words).json()["factors"];
    REQUIRE(learnt.size() == 1);
    CHECK(learnt[0]["coats"] == i + 1);
    const double low = learnt[0]["interval"][0];
    const double high = learnt[0]["interval"][1];
    CHECK(low < learnt[0]["factor"].get<double>());
    CHECK(high > factor);
    CHECK(high - low < width);
    width = high - low;
    if (i == 4) // by now the boards outweigh the label
      CHECK(learnt[0]["factor"].get<double>() == Approx(factor).epsilon(0.01));
  }
  CHECK_THAT(folder.read("t.html"), Catch::Matchers::ContainsSubstring("thicker than estimated"));
}

TEST_CASE("trend: what a board's file asked for was wanted, until a note says otherwise") {
  const TestFolder folder;
  const std::string book = folder.path("n.db");
  {
    notebook::Coat coat = coat_at(1, 3000.0, 1.0, "even");
    coat.start.files.push_back(
        {"board", "b.json", R"({"kind":"board","format":1,"name":"gauge 1","target_um":2.25,
          "resist":"r.json","blank":"p.json","machine":"m.json"})"});
    auto notebook = notebook::Notebook::open(book);
    REQUIRE(notebook.ok());
    REQUIRE(notebook->add(coat).ok());
  }
  const auto wanted = [&] {
    return run_on(book, "report --trend --json --output " + folder.path("t.html"))
        .json()["coats"][0]["wanted_um"]
        .get<double>();
  };
  CHECK(wanted() == Approx(2.25));
  REQUIRE(run_on(book, "note 1 --wanted 2.5um").status == 0);
  CHECK(wanted() == Approx(2.5));
}

TEST_CASE("trend: filters as the log has them, verdicts counted, the same bytes each time") {
  const TestFolder folder;
  const std::string book = book_of(folder, 4);
  REQUIRE(run_on(book, "report --trend --output " + folder.path("a.html")).status == 0);
  const std::string page = folder.read("a.html");
  CHECK(run_on(book, "report --trend --output -").out == page);
  CHECK(report::xml_fault(page.substr(page.find('\n') + 1)).empty());
  for (const char* words : {"Trend over 4 coats", "3 even, 1 to watch, 0 to stop, of 4",
                            "Film of Ümber &lt;2&gt;", "Vibration on bench", "gauge 2"})
    CHECK_THAT(page, Catch::Matchers::ContainsSubstring(words));
  CHECK_THAT(run_on(book, "report --trend --verdict watch --output -").out,
             Catch::Matchers::ContainsSubstring("Trend over 1 coat<"));
  const auto last =
      run_on(book, "report --trend --last 2 --json --output " + folder.path("b.html"));
  REQUIRE(last.json()["coats"].size() == 2);
  CHECK(last.json()["coats"][0]["coat"] == 3); // the oldest first
  CHECK(last.json()["coats"][1]["amplitude_mrad"] == 2.0);
  const Said none = run_on(book, "report --trend --resist nothing --output -");
  CHECK(none.status == 0);
  CHECK_THAT(none.out, Catch::Matchers::ContainsSubstring("No coat fits"));
  CHECK(run_on(book, "report --trend 1").status == 2);
  CHECK(run_on(book, "report").status == 2);
  CHECK(run_on(book, "report 1 --last 2").status == 2);
}

TEST_CASE("trend: \"even\" names the coats that could not be told, and does not speak for them") {
  const TestFolder folder;
  const std::string book = folder.path("n.db");
  const auto headline_of = [&](const std::vector<std::string>& verdicts) {
    std::filesystem::remove(book);
    auto notebook = notebook::Notebook::open(book);
    REQUIRE(notebook.ok());
    for (std::size_t i = 0; i < verdicts.size(); ++i) {
      notebook::Coat coat = coat_at(static_cast<int>(i % 10), 3000.0, 1.0, verdicts[i]);
      coat.uid[0] = static_cast<char>('a' + i / 10);
      REQUIRE(notebook->add(coat).ok());
    }
    const std::string page = run_on(book, "report --trend --output -").out;
    const auto at = page.find("Vibration");
    REQUIRE(at != std::string::npos);
    return page.substr(at, 400);
  };
  const std::string all = headline_of({"even", "even"});
  CHECK_THAT(all, ContainsSubstring("even</b>") && !ContainsSubstring("Cannot tell"));
  const std::string one = headline_of({"even", "cannot_tell", "even"});
  CHECK_THAT(one, ContainsSubstring("even where it could be told</b>"));
  CHECK_THAT(one, ContainsSubstring("2 even, 0 to watch, 0 to stop, of 3. Cannot tell: coat 2."));
  const std::string mixed =
      headline_of({"watch", "cannot_tell", "stop", "cannot_tell", "even", ""});
  CHECK_THAT(mixed, ContainsSubstring("To stop: coat 3. To watch: coat 1. Cannot tell: coats 2 and "
                                      "4. Not judged: coat 6."));
  std::vector<std::string> many(14, "cannot_tell");
  many[0] = "even";
  CHECK_THAT(headline_of(many),
             ContainsSubstring("Cannot tell: coats 2, 3, 4, 5, 6, 7 and 7 more."));
  const std::string none = headline_of({"cannot_tell"});
  CHECK_THAT(none, ContainsSubstring("cannot tell</b>") && ContainsSubstring("coat 1."));
}

TEST_CASE("trend: a measured film that neither agrees nor differs is said to tell nothing") {
  const TestFolder folder;
  const std::string book = book_of(folder, 4);
  const auto before =
      run_on(book, "report --trend --json --output " + folder.path("t.html")).json()["coats"];
  const auto headline_with = [&](const std::vector<double>& ratios) {
    for (std::size_t i = 0; i < ratios.size(); ++i)
      REQUIRE(run_on(book, "note " + std::to_string(i + 1) + " --sure --measured " +
                               number_text(ratios[i] * before[i]["estimated_um"].get<double>(), 8) +
                               "um")
                  .status == 0);
    const std::string page = run_on(book, "report --trend --output -").out;
    return page.substr(page.find("Film, "), 500);
  };
  const std::string apart = headline_with({0.72, 1.38}); // two boards that contradict each other
  CHECK_THAT(apart, ContainsSubstring("cannot tell</b>"));
  CHECK_THAT(apart, ContainsSubstring("excludes neither films as estimated nor such as are a "
                                      "quarter off: measure more of them."));
  const std::string four = headline_with({1.02, 1.02, 1.01, 1.02});
  CHECK_THAT(four, ContainsSubstring("as estimated</b>"));
  CHECK_THAT(four, ContainsSubstring("More than a quarter thinner or thicker is excluded."));
  CHECK_THAT(headline_with({0.6, 0.6, 0.61, 0.6}), ContainsSubstring("thinner than estimated</b>"));
}

TEST_CASE("exact: a coat that went through export and import has the same page, notes and all") {
  const TestFolder folder;
  const std::string book = book_of(folder, 1);
  REQUIRE(run_on(book, "note 1 --measured 1.6um").status == 0);
  REQUIRE(run_on(book, "export 1 --output " + folder.path("out")).status == 0);
  const std::string other = folder.path("other.db");
  REQUIRE(run_on(other, "import " + folder.path("out")).status == 0);
  const std::string page = run_on(book, "report 1 --output -").out;
  CHECK(page.size() > 2000);
  CHECK(run_on(other, "report 1 --output -").out == page);
  CHECK(run_on(other, "report --trend --output -").out ==
        run_on(book, "report --trend --output -").out);
}
