#include "files_scene.hpp"

#include <algorithm>

using namespace whirler;
using namespace whirler::files;

namespace {

const std::string kStart =
    R"({"kind":"board","format":1,"name":"hail 3","resist":"r.json","blank":"b.json",)";
const std::string kHead = kStart + R"("machine":"m.json",)";

/// The pointers of the faults that a text has.
std::vector<std::string> blamed(const std::string& text) {
  const auto read = read_board(text, "f");
  std::vector<std::string> pointers;
  if (!read)
    for (const FileFault& fault : read.faults())
      pointers.push_back(fault.pointer);
  return pointers;
}

bool blames(const std::string& text, const std::string& pointer) {
  const auto pointers = blamed(text);
  CAPTURE(text, pointers);
  return std::find(pointers.begin(), pointers.end(), pointer) != pointers.end();
}

} // namespace

TEST_CASE("board file: what it names, the film wanted, both sides") {
  const auto read = read_board(kHead + R"("target_um":2.4,"sides":["sun","shade"],
    "spread":{"speed_rpm":450,"dwell_s":4},"dwell_s":30,"lamp_mW_cm2":8})",
                               "f");
  REQUIRE(read.ok());
  CHECK(read->name == "hail 3");
  CHECK(read->resist == "r.json");
  CHECK(read->machine == "m.json");
  CHECK(read->target->um() == Approx(2.4));
  CHECK(read->sides == std::vector<std::string>{"sun", "shade"});
  CHECK(read->spread->speed.rpm() == Approx(450));
  CHECK(read->spread->dwell.s() == Approx(4));
  CHECK(read->dwell->s() == Approx(30));
  CHECK(read->lamp->mW_per_cm2() == Approx(8));
}

TEST_CASE("board file: two sides where none are named, and a profile in place of a film") {
  const auto read = read_board(kHead + R"("profile":"p.json"})", "f");
  REQUIRE(read.ok());
  CHECK(read->profile == "p.json");
  CHECK_FALSE(read->target.has_value());
  CHECK(read->sides.size() == 2);
  const auto any = read_any(kHead + R"("profile":"p.json"})", "f");
  REQUIRE(any.ok());
  CHECK(kind_word(*any) == "board");
}

TEST_CASE("board file: each mistake is blamed on its own key") {
  CHECK(blamed(kHead + R"("target_um":2.4})").empty());
  CHECK(blames(kHead + R"("target_um":0})", "/target_um"));
  CHECK(blames(kHead + R"("target_um":"2.4"})", "/target_um"));
  CHECK(blames(kHead + R"("target_um":2.4,"colour":"red"})", "/colour"));
  CHECK(blames(kHead + R"("target_um":2.4,"sides":[]})", "/sides"));
  CHECK(blames(kHead + R"("target_um":2.4,"sides":["a","b","c"]})", "/sides"));
  CHECK(blames(kHead + R"("target_um":2.4,"sides":["a","a"]})", "/sides"));
  CHECK(blames(kHead + R"("target_um":2.4,"sides":["a",7]})", "/sides/1"));
  CHECK(blames(kHead + R"("target_um":2.4,"spread":{"speed_rpm":500}})", "/spread/dwell_s"));
  CHECK(blames(kHead + R"("target_um":2.4,"lamp_mW_cm2":-1})", "/lamp_mW_cm2"));
  CHECK(blames(kHead + R"("profile":"p.json","dwell_s":3})", "/dwell_s"));
  CHECK_FALSE(blamed(kHead + R"("target_um":2.4,"profile":"p.json"})").empty());
  CHECK_FALSE(blamed(kHead + R"("dwell_s":3})").empty());
  CHECK_FALSE(blamed(kStart + R"("target_um":2.4})").empty());
}
