// A coat as open files and back, byte for byte; what is wrong in such files is named.
#include "catch.hpp"
#include "notebook_scene.hpp"
#include "whirler/notebook/coat_text.hpp"

using namespace whirler;
using namespace whirler::notebook;
using Catch::Matchers::ContainsSubstring;

namespace {

/// A coat that went through a notebook, with whatever may be odd about one.
Coat odd_coat(const std::string& path, bool end) {
  auto notebook = Notebook::open(path);
  CoatStart start = a_start();
  start.driver = "dr\xFFiver\x01"; // whatever the line brought
  start.tick = seconds(1.0 / 3e6);
  auto writer = notebook->begin_coat(start);
  REQUIRE(writer.ok());
  REQUIRE(writer->pulses(std::vector<std::int64_t>{-40, 5}, {}, 3, seconds(0)).ok());
  for (int second = 0; second < 2; ++second)
    REQUIRE(write_second(*writer, second).ok());
  REQUIRE(writer->pulses(std::vector<std::int64_t>{9'000'000'000'000'000}, {}, 2, seconds(2)).ok());
  REQUIRE(
      writer->sample({.at = seconds(-0.5), .speed = rpm(-0.004), .segment = -1}, seconds(2)).ok());
  REQUIRE(writer->event({seconds(2), "line\nbreak \"and\" \xC3\xA9"}, seconds(2)).ok());
  if (end)
    REQUIRE(writer->finish(an_end(), seconds(2)).ok());
  const auto number = writer->number();
  { const auto closed = std::move(*writer); }
  return *notebook->coat(number);
}

} // namespace

TEST_CASE("exact: export, import and export again give the same bytes") {
  const bool end = GENERATE(true, false);
  const Folder folder;
  const Coat coat = odd_coat(folder.file("a.db"), end);
  const CoatTexts first = texts_of(coat);
  const auto read = coat_of(first, "f");
  REQUIRE(read.ok());
  auto other = Notebook::open(folder.file("b.db"));
  const auto number = other->add(*read);
  REQUIRE(number.ok());
  const auto again = other->coat(*number);
  REQUIRE(again.ok());
  const CoatTexts second = texts_of(*again);
  CHECK(first.coat == second.coat);
  CHECK(first.pulses == second.pulses);
  CHECK(first.samples == second.samples);
  CHECK(again->state == (end ? CoatState::finished : CoatState::broken_off));
  CHECK(again->uid == coat.uid);
  CHECK(again->pulses.ticks == coat.pulses.ticks);
  CHECK(again->pulses.marks == coat.pulses.marks);
  CHECK(again->pulses.tick == coat.pulses.tick);
  CHECK(again->gaps == coat.gaps);
}

TEST_CASE("coat text: a coat without pulses, samples or a tach goes there and back") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("a.db"));
  CoatStart start;
  auto writer = notebook->begin_coat(start);
  REQUIRE(writer->finish({}, seconds(0)).ok());
  const CoatTexts texts = texts_of(*notebook->coat(1));
  const auto read = coat_of(texts, "f");
  REQUIRE(read.ok());
  CHECK(texts_of(*read).coat == texts.coat);
  CHECK(texts.pulses == "ticks\n");
}

TEST_CASE(
    "coat text: an earlier program's folder, without counts and checksums, is taken if asked") {
  const Folder folder;
  CoatTexts texts = texts_of(odd_coat(folder.file("a.db"), true));
  for (const char* key : {"  \"pulses\": ", "  \"samples\": ", "  \"pulses_sha256\": ",
                          "  \"samples_sha256\": ", "  \"sha256\": "}) {
    const auto at = texts.coat.find(key);
    REQUIRE(at != std::string::npos);
    texts.coat.erase(at, texts.coat.find('\n', at) + 1 - at);
  }
  texts.coat.replace(texts.coat.rfind(",\n}"), 1, "");
  const auto refused = coat_of(texts, "f");
  REQUIRE(refused.faults().size() == 1);
  CHECK(refused.faults()[0].found == "no checksum");
  CHECK_THAT(refused.faults()[0].next, ContainsSubstring("--unchecked"));
  CHECK(coat_of(texts, "f", BadChecksum::take).ok());
}

TEST_CASE("coat text: rows that changed places, keys taken out and figures altered are seen") {
  const Folder folder;
  const CoatTexts good = texts_of(odd_coat(folder.file("a.db"), true));
  REQUIRE(coat_of(good, "f").ok());
  const auto blamed = [&](std::string CoatTexts::*part, const std::string& from,
                          const std::string& to) {
    CoatTexts texts = good;
    const auto at = (texts.*part).find(from);
    REQUIRE(at != std::string::npos);
    (texts.*part).replace(at, from.size(), to);
    CHECK(coat_of(texts, "f", BadChecksum::take).ok()); // nothing else is wrong with it
    const auto read = coat_of(texts, "f");
    REQUIRE_FALSE(read.ok());
    CHECK_THAT(read.faults().front().found, ContainsSubstring("altered"));
    return read.faults().front().file;
  };
  CHECK(blamed(&CoatTexts::coat, "\"side\": \"top\"", "\"side\": \"tip\"") == "f/coat.json");
  CHECK(blamed(&CoatTexts::coat, "  \"notes\": [],\n", "") == "f/coat.json");
  CHECK(blamed(&CoatTexts::samples, ",0.125,", ",0.126,") == "f/samples.csv");
  const std::string& rows = good.samples;
  const auto first = rows.find('\n') + 1;
  const auto second = rows.find('\n', first) + 1;
  const auto third = rows.find('\n', second) + 1;
  const std::string one = rows.substr(first, second - first);
  const std::string two = rows.substr(second, third - second);
  CHECK(blamed(&CoatTexts::samples, one + two, two + one) == "f/samples.csv");
}

TEST_CASE("notebook: the same coat is not taken twice") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("a.db"));
  auto writer = notebook->begin_coat(a_start());
  REQUIRE(writer->finish(an_end(), seconds(0)).ok());
  const auto added = notebook->add(*notebook->coat(1));
  REQUIRE_FALSE(added.ok());
  CHECK_THAT(added.fault().what, ContainsSubstring("as number 1"));
  CHECK(notebook->log()->size() == 1);
}

TEST_CASE("coat text: a long coat is stored in chunks and reads back whole") {
  const Folder folder;
  auto notebook = Notebook::open(folder.file("a.db"));
  Coat coat;
  coat.uid = std::string(32, 'a');
  coat.start = a_start();
  coat.pulses = train_of(100);
  const std::size_t pulses = coat.pulses.size();
  coat.gaps = {{0, 1}, {4095, 2}, {4096, 3}, {4097, 4}, {pulses, 5}};
  const auto number = notebook->add(coat);
  REQUIRE(number.ok());
  const auto read = notebook->coat(*number);
  REQUIRE(read.ok());
  CHECK(read->pulses.ticks == coat.pulses.ticks);
  CHECK(read->pulses.marks == coat.pulses.marks);
  CHECK(read->gaps == coat.gaps);
}

TEST_CASE("coat text: mistakes are named with file, line and place") {
  const Folder folder;
  const CoatTexts good = texts_of(odd_coat(folder.file("a.db"), true));
  const auto hurt = [&](std::string CoatTexts::*part, const std::string& from,
                        const std::string& to) {
    CoatTexts texts = good;
    const auto at = (texts.*part).find(from);
    REQUIRE(at != std::string::npos);
    (texts.*part).replace(at, from.size(), to);
    const auto read = coat_of(texts, "f");
    REQUIRE_FALSE(read.ok());
    return read.faults().front();
  };
  CHECK(hurt(&CoatTexts::coat, "\"uid\": \"", "\"uid\": \"x").pointer == "/uid");
  CHECK(hurt(&CoatTexts::coat, "2024-02-29T", "2024-02-30T").pointer == "/started");
  CHECK(hurt(&CoatTexts::coat, "\"before\": 0", "\"before\": 7000").pointer == "/gaps");
  CHECK(hurt(&CoatTexts::coat, "\"side\": \"top\"", "\"side\": 1").pointer == "/side");
  CHECK(hurt(&CoatTexts::coat, "\"end\"", "\"ende\"").file == "f/coat.json");
  CHECK(hurt(&CoatTexts::pulses, "\n5,", "\n5x,").line == 3);
  CHECK(hurt(&CoatTexts::pulses, "\n5,\n", "\n").file == "f/pulses.csv"); // a row is gone
  CHECK(hurt(&CoatTexts::coat, "\"samples\": ", "\"samples\": 1").file == "f/samples.csv");
  CHECK(hurt(&CoatTexts::samples, "t_s", "t").file == "f/samples.csv");
  CHECK(hurt(&CoatTexts::samples, ",0.125,", ",,").line == 2);
  CHECK(hurt(&CoatTexts::samples, ",0.125,", ",").line == 2);
  CHECK(hurt(&CoatTexts::samples, ",0.125,", ",0.125,0,").line == 2);
}
