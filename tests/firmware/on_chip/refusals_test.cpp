// The real program and the firmware disagree: both numbers are said, and nothing turns.
#include "catch.hpp"

#include "chain.hpp"

namespace {

using namespace bench;
using Catch::Matchers::ContainsSubstring;

struct Refused {
  int status = -1;
  std::string said;
  bool turned = false;
};

Refused run_on(const std::string& image, const ChainFiles& files) {
  StandModel model;
  model.image = image;
  Chain chain(WHIRLER_PROGRAM, model, files);
  Refused refused;
  refused.status = chain.until_ended().value_or(-1);
  refused.said = chain.host.said() + chain.host.answer();
  refused.turned = chain.stand.rig.enabled_count() > 0;
  return refused;
}

} // namespace

TEST_CASE("a driver of a later version of the protocol is refused with both ranges",
          "[chain_refusals]") {
  const auto refused = run_on("later", {});
  CHECK(refused.status == 4);
  CHECK_THAT(refused.said, ContainsSubstring("protocol 2 to 2, this program 1 to 1"));
  CHECK_FALSE(refused.turned);
}

TEST_CASE("a machine file that differs from the driver is refused with both figures",
          "[chain_refusals]") {
  ChainFiles files;
  std::string both;
  std::string image = "plain";
  SECTION("marks") {
    files.marks = 24;
    both = "the machine file says 24 marks a turn, the driver 6";
  }
  SECTION("an index that the driver does not know") {
    files.lid = "none";
    image = "bare";
    both = "the machine file has an index mark, the driver knows none";
  }
  SECTION("a lid switch that the driver does not have") {
    files.index = false;
    image = "bare";
    both = "the machine file has a lid switch, the driver has none";
  }
  SECTION("a speed that the file allows and the driver does not") {
    files.speed_limit_rpm = 8000.0;
    files.profile = R"({"kind":"profile","format":1,"name":"fast","steps":[
      {"speed_rpm":6500,"ramp_rpm_s":1000,"dwell_s":1}],"stop":{"ramp_rpm_s":1000}})";
    both = "6500 rpm asked for, the driver allows 6000 rpm";
  }
  const auto refused = run_on(image, files);
  CHECK(refused.status == 3);
  CHECK_THAT(refused.said, ContainsSubstring(both));
  CHECK_FALSE(refused.turned);
}

TEST_CASE("an open lid at the start is said, and nothing turns", "[chain_refusals]") {
  StandModel model;
  Chain chain(WHIRLER_PROGRAM, model, {});
  chain.stand.rig.lid(true); // before the program has so much as opened the port
  CHECK(chain.until_ended() == 5);
  CHECK_THAT(chain.host.said(), ContainsSubstring("the lid is open"));
  CHECK(chain.stand.rig.enabled_count() == 0);
}
