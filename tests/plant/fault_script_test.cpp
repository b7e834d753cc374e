#include "catch.hpp"
#include "whirler/plant/fault_script.hpp"

using namespace whirler;
using namespace whirler::plant;

TEST_CASE("a fault is a word, perhaps a value, a time, and perhaps how long it lasts") {
  const auto lid = parse_fault("lid@12s").value();
  CHECK(lid.word == FaultWord::lid);
  CHECK(lid.at == seconds(12));
  CHECK_FALSE(lid.lasts.has_value());
  const auto drop = parse_fault("drop=3@500ms+2s").value();
  CHECK(drop.word == FaultWord::drop);
  CHECK(drop.value == 3);
  CHECK(drop.at == milliseconds(500));
  CHECK(drop.lasts == seconds(2));
  CHECK(parse_fault("corrupt=1e-3@0s").value().value == 1e-3);
  CHECK(parse_fault("drop@1min").value().value == 2); // the usual one
}

TEST_CASE("every word of the table is read, and no other") {
  REQUIRE(fault_descriptions().size() == kFaultWords);
  for (const auto& description : fault_descriptions()) {
    const auto read = parse_fault(std::string(description.name) + "@1s");
    REQUIRE(read.ok());
    CHECK(read->word == description.word);
    CHECK(read->value == description.usual);
  }
  for (const char* text :
       {"",           "@1s",           "lid",         "lid@",           "lid@1",
        "lid@-1s",    "lid@1s+",       "lid@1s+0s",   "lid@1s+-2s",     "lids@1s",
        "lid=3@1s",   "drop=1@1s",     "drop=2.5@1s", "corrupt=0@1s",   "corrupt=1.5@1s",
        "marks=0@1s", "marks=2000@1s", "slow=-1@1s",  "corrupt=nan@1s", "lid@infs",
        "LID@1s"}) {
    CAPTURE(text);
    const auto read = parse_fault(text);
    REQUIRE_FALSE(read.ok());
    CHECK(read.fault().kind == FaultKind::command_line);
    CHECK_FALSE(read.fault().next.empty());
  }
}

TEST_CASE("faults at 0 s count from power-on, the others from the first start") {
  FaultSchedule faults({parse_fault("silent@0s+2s").value(), parse_fault("lid@3s+1s").value()});
  faults.advance(seconds(1), std::nullopt);
  CHECK(faults.holds(FaultWord::silent));
  CHECK_FALSE(faults.holds(FaultWord::lid));
  faults.advance(seconds(100), std::nullopt);
  CHECK_FALSE(faults.holds(FaultWord::silent));
  CHECK(faults.ends(FaultWord::silent));
  CHECK_FALSE(faults.holds(FaultWord::lid));
  faults.advance(seconds(103), seconds(3));
  CHECK(faults.begins(FaultWord::lid));
  faults.advance(seconds(103.5), seconds(3.5));
  CHECK(faults.holds(FaultWord::lid));
  CHECK_FALSE(faults.begins(FaultWord::lid));
  faults.advance(seconds(104), seconds(4));
  CHECK_FALSE(faults.holds(FaultWord::lid));
}
