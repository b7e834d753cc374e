// The same coat from elsewhere once more: it completes what is here and never takes anything away.
#include "catch.hpp"
#include "notebook_scene.hpp"

using namespace whirler;
using namespace whirler::notebook;
using Catch::Matchers::ContainsSubstring;

namespace {

constexpr auto kUid = "0123456789abcdef0123456789abcdef";

/// The made-up coat up to a second, without an end.
Coat torso(int seconds_long) {
  Coat coat;
  coat.uid = kUid;
  coat.start = a_start();
  coat.pulses = train_of(seconds_long);
  coat.pulses.tick = coat.start.tick;
  for (int i = 0; i < 50 * seconds_long; ++i)
    coat.samples.push_back(
        {seconds(0.02 * i), rpm(2000.0 + 0.05 * i), rpm(2000), seconds(0.02 * i), 0.4, 0});
  for (int i = 0; i < seconds_long; ++i)
    coat.events.push_back({seconds(i), "second " + std::to_string(i)});
  return coat;
}

Coat whole(int seconds_long) {
  Coat coat = torso(seconds_long);
  coat.end = an_end();
  return coat;
}

Note thickness(double um) {
  return {{1709217000250}, "thickness", "gauge 7",
          std::nullopt,    "Amber 25",  "{\"measured_um\":" + std::to_string(um) + "}"};
}

Notebook opened(const std::string& path) {
  auto notebook = Notebook::open(path);
  REQUIRE(notebook.ok());
  return std::move(*notebook);
}

struct Book {
  Folder folder;
  Notebook notebook = opened(folder.file("n.db"));
};

} // namespace

TEST_CASE("import: the whole coat completes the torso, under its number and beside its notes") {
  Book book;
  REQUIRE(book.notebook.add(torso(1)).ok());
  Note here = thickness(1.5);
  here.coat = 1;
  REQUIRE(book.notebook.add_note(here).ok());
  Coat later = whole(2);
  later.notes = {thickness(1.7)};
  const auto number = book.notebook.add(later);
  REQUIRE(number.ok());
  CHECK(*number == 1);
  const auto coat = book.notebook.coat(1);
  CHECK(coat->end.has_value());
  CHECK(coat->pulses.ticks == later.pulses.ticks);
  CHECK(coat->samples.size() == 100);
  CHECK(coat->events.size() == 2);
  REQUIRE(coat->notes.size() == 2); // what was noted here stays
  CHECK(coat->notes[0].document == here.document);
  const auto again = book.notebook.add(later);
  REQUIRE_FALSE(again.ok());
  CHECK(again.fault().next == "nothing to do");
}

TEST_CASE("import: notes that were made after the first import come with the next") {
  Book book;
  REQUIRE(book.notebook.add(whole(1)).ok());
  Coat later = whole(1);
  later.notes = {thickness(1.7), thickness(1.7)}; // measured twice, the same twice
  REQUIRE(book.notebook.add(later).ok());
  CHECK(book.notebook.coat(1)->notes.size() == 2);
  CHECK(book.notebook.log()->front().measured->um() == Approx(1.7));
  CHECK_FALSE(book.notebook.add(later).ok());
  CHECK_FALSE(book.notebook.add(whole(1)).ok()); // and an older export takes none away
  CHECK(book.notebook.coat(1)->notes.size() == 2);
}

TEST_CASE("import: what differs from what is here is refused, and what is here stays") {
  Book book;
  const Coat here = whole(2);
  REQUIRE(book.notebook.add(here).ok());
  std::vector<Coat> others(4, whole(3));
  others[0].pulses.ticks[7] += 1;
  others[1].samples[7].speed = rpm(1);
  others[2].events[0].text = "another";
  others[3].end->outcome = "lid";
  for (const Coat& other : others) {
    const auto refused = book.notebook.add(other);
    REQUIRE_FALSE(refused.ok());
    CHECK_THAT(refused.fault().what, ContainsSubstring("as number 1, and what is there is not"));
  }
  CHECK(book.notebook.coat(1)->pulses.ticks == here.pulses.ticks);
  CHECK(book.notebook.log()->size() == 1);
}

TEST_CASE("import: a coat that is being written here is not completed from outside") {
  Book book;
  auto writer = book.notebook.begin_coat(a_start());
  REQUIRE(write_second(*writer, 0).ok());
  Coat outside = *book.notebook.coat(1);
  outside.end = an_end();
  const auto refused = book.notebook.add(outside);
  REQUIRE_FALSE(refused.ok());
  CHECK_THAT(refused.fault().what, ContainsSubstring("still running"));
  CHECK(writer->finish(an_end(), seconds(1)).ok());
}
