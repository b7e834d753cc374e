// Files that commands write: whole or not at all, whatever the disk has to say. A limit on the size
// of files stands in for a full disk: writing fails in the same place, and everybody may set one.
#include "catch.hpp"
#include "notebook/notebook_scene.hpp"
#include "run_program.hpp"

#include <sys/stat.h>

using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;
using whirler::seconds;

namespace {

namespace fs = std::filesystem;
namespace nb = whirler::notebook;

constexpr auto kResist = R"({"kind":"resist","format":1,"name":"reed","viscosity_mPa_s":25,
  "at_C":25,"density_g_cm3":1.035,"solids_mass_fraction":0.36,"solids_density_g_cm3":1.2,
  "solvent":"pgmea"})";
constexpr auto kProfile = R"({"kind":"profile","format":1,"steps":[
  {"name":"thin","speed_rpm":3000,"ramp_rpm_s":1000,"dwell_s":30}],"stop":{"ramp_rpm_s":1000}})";

/// As `run_program`, where no file can grow beyond that many blocks of 512 bytes.
Said run_on_a_small_disk(int blocks, const std::string& arguments) {
  const TestFolder folder;
  const std::string script =
      folder.write("run.sh", "trap '' XFSZ\nulimit -f " + std::to_string(blocks) + "\nexec " +
                                 WHIRLER_PROGRAM + " " + arguments + "\n");
  const std::string command =
      "LC_ALL=C sh " + script + " >" + folder.path("out") + " 2>" + folder.path("err");
  const int status = std::system(command.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, folder.read("out"), folder.read("err")};
}

std::size_t files_in(const std::string& folder) {
  return static_cast<std::size_t>(
      std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

/// A coat of so many seconds, ended or left broken off.
void add_coat(const std::string& book, int seconds_long) {
  auto notebook = nb::Notebook::open(book);
  REQUIRE(notebook.ok());
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer.ok());
  for (int second = 0; second < seconds_long; ++second)
    REQUIRE(write_second(*writer, second).ok());
  REQUIRE(writer->finish(an_end(), seconds(seconds_long)).ok());
}

std::string film_words(const TestFolder& folder) {
  return "film " + folder.write("p.json", kProfile) + " --resist " +
         folder.write("r.json", kResist);
}

} // namespace

TEST_CASE("output: on a full disk the older drawing stays whole, and nothing lies beside it") {
  const TestFolder folder;
  const std::string words = film_words(folder) + " --svg " + folder.path("film.svg");
  REQUIRE(run_program(words).status == 0);
  const std::string older = folder.read("film.svg");
  REQUIRE(older.size() > 2 * 512);
  const auto files = files_in(folder.path(""));
  const Said said = run_on_a_small_disk(2, words);
  CHECK(said.status == 3);
  CHECK_THAT(said.err, ContainsSubstring("film.svg") && ContainsSubstring("to its end"));
  CHECK(folder.read("film.svg") == older);
  CHECK(files_in(folder.path("")) == files);
}

TEST_CASE("output: on a full disk the older page of a coat stays whole") {
  const TestFolder folder;
  add_coat(folder.path("n.db"), 3);
  const std::string words =
      "report 1 --notebook " + folder.path("n.db") + " --output " + folder.path("page.html");
  REQUIRE(run_program(words).status == 0);
  const std::string older = folder.read("page.html");
  const auto held = nb::Notebook::open(folder.path("n.db")); // its files beside it are there by now
  const auto files = files_in(folder.path(""));
  const Said said = run_on_a_small_disk(static_cast<int>(older.size() / 512), words);
  CAPTURE(older.size(), said.err);
  CHECK(said.status == 3);
  CHECK_THAT(said.err, ContainsSubstring("to its end"));
  CHECK(folder.read("page.html") == older);
  CHECK(files_in(folder.path("")) == files);
}

TEST_CASE("output: a written page replaces the older one, keeps its permissions and its link") {
  const TestFolder folder;
  const std::string words = film_words(folder) + " --svg ";
  const std::string drawn = folder.path("film.svg");
  REQUIRE(run_program(words + drawn).status == 0);
  const std::string right = folder.read("film.svg");
  folder.write("film.svg", right.substr(0, right.size() / 2)); // of its kind, but another
  REQUIRE(::chmod(drawn.c_str(), 0640) == 0);
  fs::create_symlink(drawn, folder.path("link.svg"));
  REQUIRE(run_program(words + folder.path("link.svg")).status == 0);
  CHECK(fs::is_symlink(folder.path("link.svg")));
  CHECK(folder.read("film.svg") == right);
  CHECK(fs::status(drawn).permissions() == fs::perms{0640});
  const Said piped = run_program(words + "/dev/stdout"); // what is no file stays what it is
  CHECK(piped.status == 0);
  CHECK_THAT(piped.out, ContainsSubstring("</svg>"));
  CHECK(run_program(words + "/dev/full").status == 3);
}

TEST_CASE("export: one that fails leaves no half folder, and none that was made for it") {
  const TestFolder folder;
  add_coat(folder.path("n.db"), 30); // pulses.csv alone is some 60 kB
  const std::string words = "export 1 --notebook " + folder.path("n.db") + " --output ";
  const int blocks = 40'000 / 512;
  const Said said = run_on_a_small_disk(blocks, words + folder.path("a/b"));
  CAPTURE(said.err);
  CHECK(said.status == 3);
  CHECK_FALSE(fs::exists(folder.path("a")));
  fs::create_directory(folder.path("mine"));
  CHECK(run_on_a_small_disk(blocks, words + folder.path("mine")).status == 3);
  CHECK(files_in(folder.path("mine")) == 0); // the user's own folder stays
  CHECK(run_program(words + folder.path("a/b")).status == 0);
  CHECK(files_in(folder.path("a/b")) == 3);
}
