// Drive files that cannot stop, start too soon, or contradict themselves: each is refused at the
// key that is to blame, and what real drives do is not.
#include "files_scene.hpp"

using namespace whirler;
using namespace whirler::files;
using namespace whirler::modbus;

namespace {

using Catch::Matchers::ContainsSubstring;

/// A command word at 8 of one register, an inverter's as they often are; 20 is a second one.
const std::string kHead = R"({"kind":"drive","format":1,"name":"burdock",
"target":{"address":2,"type":"s16","scale_rpm":1},
"actual":{"address":16,"type":"s16","scale_rpm":1,"from":"encoder"},
"fault":{"address":18,"mask":"0x0007"},)";
const std::string kTail = R"("dead_man":{"address":4,"scale_s":0.1,"time_ms":500}})";

std::string drive(const std::string& keys) { return kHead + keys + "," + kTail; }
std::string steps(const std::string& start, const std::string& stop, const std::string& more = "") {
  return drive("\"start\":[" + start + "],\"stop\":[" + stop + "]" + more);
}
std::string put(int address, int value) {
  return "{\"write\":" + std::to_string(address) + ",\"value\":" + std::to_string(value) + "}";
}

void refused(const std::string& text, const std::string& pointer, const std::string& found) {
  const auto fault = only_fault(text);
  CHECK(fault.pointer == pointer);
  CHECK_THAT(fault.found, ContainsSubstring(found));
  CHECK_FALSE(fault.next.empty());
}

void good(const std::string& text) {
  for (const auto& fault : faults_in(text))
    UNSCOPED_INFO(to_text(fault));
  CHECK(faults_in(text).empty());
}

} // namespace

TEST_CASE("drive file: a stop that does not end the run is refused") {
  refused(steps(put(8, 1), put(9, 0)), "/stop/0/value", "register 9");
  refused(steps(put(8, 1), put(8, 1)), "/stop/0/value", "starts the motor (start/0/value)");
  refused(steps(put(8, 1), put(8, 0) + "," + put(8, 1)), "/stop/1/value", "starts the motor");
  refused(steps(put(20, 5) + "," + put(8, 1), put(20, 5)), "/stop/0/value", "leaves nothing else");
  // Two stops of a command that is pushed and let go: the second is a value that it has already.
  refused(steps(put(8, 1) + "," + put(8, 0), put(8, 0)), "/stop/0/value", "leaves nothing else");
  refused(steps(R"({"wait":17,"value":1})", put(8, 0)), "/start/0", "waits only");
}

TEST_CASE(
    "drive file: without a cut the write that ends the run comes first, with one it need not") {
  refused(steps(put(8, 1), put(9, 0) + "," + put(8, 0)), "/stop/0/value", "before the write");
  good(steps(put(8, 1), put(9, 0) + "," + put(8, 0), ",\"cut\":[" + put(8, 0) + "]"));
}

TEST_CASE("drive file: a cut that writes what runs the motor is refused") {
  refused(steps(put(8, 1), put(8, 0), ",\"cut\":[" + put(8, 1) + "]"), "/cut/0/value",
          "starts the motor");
  refused(drive(R"("run":{"address":8,"on":1,"off":0},"cut":[{"write":8,"value":1}])"),
          "/cut/0/value", "starts the motor (run/on)");
  refused(steps(put(20, 3) + "," + put(8, 1), put(8, 0), ",\"cut\":[" + put(20, 3) + "]"),
          "/cut/0/value", "has written there already");
  good(steps(put(8, 1), put(8, 0), ",\"cut\":[" + put(21, 1) + "]")); // a coast command of its own
}

TEST_CASE("drive file: what comes before the run must not start it") {
  for (const std::string key : {"setup", "clear"})
    refused(steps(put(8, 1), put(8, 0), ",\"" + key + "\":[" + put(8, 0) + "," + put(8, 1) + "]"),
            "/" + key + "/1/value", "starts the motor");
  refused(drive(R"("run":{"address":8,"on":1,"off":0},"fault_reset":{"address":8,"value":1})"),
          "/fault_reset/value", "starts the motor (run/on)");
  good(drive(R"("run":{"address":8,"on":1,"off":0},"fault_reset":{"address":8,"value":128})"));
}

TEST_CASE("drive file: command words as drives have them are no contradictions") {
  good(steps(put(8, 6) + "," + put(8, 7) + "," + put(8, 15), put(8, 7) + "," + put(8, 0),
             ",\"clear\":[" + put(8, 0) + "," + put(8, 128) + "],\"cut\":[" + put(8, 0) + "]"));
  good(steps(put(8, 1) + "," + put(8, 0), put(8, 2) + "," + put(8, 0))); // pushed and let go
  good(steps(put(9, 0) + "," + put(8, 1) + "," + put(8, 0), put(9, 1) + "," + put(9, 0)));
  good(steps(put(8, 0), put(8, 1))); // 1 is "stop"
}

TEST_CASE("drive file: two values on one register are refused, and what to write instead is said") {
  const auto pair = [](const std::string& keys, const std::string& pointer,
                       const std::string& next) {
    const auto fault = only_fault(drive(keys));
    CHECK(fault.pointer == pointer);
    CHECK_THAT(fault.next, ContainsSubstring(next));
  };
  const std::string run = R"("run":{"address":8,"on":1,"off":0},)";
  pair(R"("run":{"address":2,"on":1,"off":0})", "/run/address", "correct one");
  pair(R"("run":{"address":4,"on":1,"off":0})", "/dead_man/address", "correct one");
  pair(run + R"("fault_reset":{"address":2,"value":1})", "/fault_reset/address", "correct one");
  pair(run + R"("slope":{"address":2,"scale_rpm_s":1})", "/slope/address", "correct one");
  pair(run + R"("direction":{"address":8,"cw":0,"ccw":2})", "/direction/address", "\"cw\"");
  pair(run +
           R"("slope":{"address":40,"scale_rpm_s":1},"slope_down":{"address":40,"scale_rpm_s":1})",
       "/slope_down/address", "leave \"slope_down\" out");
  pair(run + R"("running":{"address":16,"value":1})", "/running/address", "correct one");
  const auto same = only_fault(with(drive(run + "\"unit\":1"), "\"address\":16", "\"address\":2"));
  CHECK(same.pointer == "/actual/address");
  CHECK_THAT(same.next, ContainsSubstring("measures"));
  // Another table, or a word that serves both.
  good(with(drive(run + "\"unit\":1"), "\"address\":16,", "\"address\":2,\"function\":4,"));
  good(drive(run + R"("running":{"address":8,"mask":1,"value":1})"));
  good(drive(run + R"("running":{"address":18,"mask":8,"value":8})"));
}

TEST_CASE("drive file: a sequence does not write what a key has to itself") {
  for (const std::string key : {"setup", "clear", "cut"})
    refused(steps(put(8, 1), put(8, 0), ",\"" + key + "\":[" + put(2, 300) + "]"),
            "/" + key + "/0/value", "the register of \"target\"");
  refused(steps(put(8, 1), put(8, 0), ",\"setup\":[" + put(4, 0) + "]"), "/setup/0/value",
          "the register of \"dead_man\"");
  good(steps(put(8, 1), put(8, 0), ",\"setup\":[" + put(2, 0) + "]")); // a target of zero
}

TEST_CASE("drive file: scales, offsets and limits that no drive has are refused") {
  const auto plain = drive(R"("run":{"address":8,"on":1,"off":0},"limits":{"speed_rpm":4000})");
  good(plain);
  const auto target = [&](const std::string& keys) {
    return with(plain, R"("type":"s16","scale_rpm":1})", keys + "}");
  };
  CHECK(only_fault(target(R"("scale_rpm":500)")).pointer == "/target/scale_rpm");
  CHECK(only_fault(target(R"("scale_rpm":0.1,"offset_rpm":500)")).pointer == "/target/offset_rpm");
  CHECK(only_fault(target(R"("scale_rpm":7,"offset_rpm":3)")).pointer == "/target/offset_rpm");
  CHECK(only_fault(target(R"("scale_rpm":1,"offset_rpm":-70000)")).pointer == "/target/offset_rpm");
  good(target(R"("scale_rpm":1000,"type":"f32")")); // a float in thousands
  CHECK(only_fault(with(plain, R"("speed_rpm":4000)", R"("speed_rpm":40000)")).pointer ==
        "/limits/speed_rpm");
  CHECK(only_fault(with(plain, R"("speed_rpm":4000)", R"("speed_rpm":-4000)")).pointer ==
        "/limits/speed_rpm");
  CHECK(only_fault(with(plain, R"("speed_rpm":4000)", R"("speed_min_rpm":-1)")).pointer ==
        "/limits/speed_min_rpm");
  CHECK(only_fault(with(plain, R"("speed_rpm":4000)", R"("speed_min_rpm":50000)")).pointer ==
        "/limits/speed_min_rpm");
  // A speed that the drive's reading cannot show would never be an overspeed.
  CHECK(only_fault(with(plain, R"("type":"s16","scale_rpm":1,"from")",
                        R"("type":"s16","scale_rpm":0.1,"from")"))
            .pointer == "/limits/speed_rpm");
  const auto slope = [&](const std::string& keys) {
    return with(plain, "\"limits\":{", "\"slope\":{\"address\":40," + keys + "},\"limits\":{");
  };
  good(slope(R"("scale_s":0.1,"to_rpm":3000)"));
  CHECK(only_fault(slope(R"("scale_rpm_s":5000)")).pointer == "/slope/scale_rpm_s");
  CHECK(only_fault(slope(R"("scale_s":100,"to_rpm":3000)")).pointer == "/slope/scale_s");
  CHECK(only_fault(
            with(slope(R"("scale_rpm_s":0.01)"), R"("speed_rpm":4000)", R"("ramp_rpm_s":6000)"))
            .pointer == "/limits/ramp_rpm_s");
}

TEST_CASE("drive file: a \"running\" that the drive shows at rest too is refused") {
  const auto test = [](const std::string& running, const std::string& stop = "") {
    return drive(R"("start":[{"write":8,"value":6},{"wait":17,"mask":111,"value":35},)"
                 R"({"write":8,"value":15}],"stop":[{"write":8,"value":0})" +
                 stop + R"(],"running":)" + running);
  };
  good(test(R"({"address":17,"mask":111,"value":39})", R"(,{"wait":17,"mask":79,"value":64})"));
  CHECK(only_fault(test(R"({"address":17,"mask":0,"value":0})")).pointer == "/running/mask");
  refused(test(R"({"address":17,"mask":111,"value":35})"), "/running/value", "\"start\" waits for");
  refused(test(R"({"address":17,"mask":64,"value":64})", R"(,{"wait":17,"mask":79,"value":64})"),
          "/running/value", "\"stop\" waits for");
  refused(test(R"({"address":18,"mask":5,"value":4})"), "/running/value", "a fault");
  refused(drive(R"("run":{"address":8,"on":1,"off":0},"running":{"address":8,"mask":2,"value":0})"),
          "/running/value", "\"off\" of \"run\"");
}

TEST_CASE("drive file: a wait under no bits agrees with everything, and is refused") {
  CHECK(only_fault(steps(put(8, 1) + R"(,{"wait":17,"mask":0,"value":0})", put(8, 0))).pointer ==
        "/start/1/mask");
}

TEST_CASE("drive file: coils run a drive, and discrete inputs tell of it") {
  const auto read = read_drive(
      R"({"kind":"drive","format":1,"name":"clover","target":{"address":2,"scale_rpm":1},
"actual":{"address":3,"function":4,"scale_rpm":1,"from":"encoder"},
"run":{"address":0,"function":5,"on":1,"off":0},
"direction":{"address":1,"function":5,"cw":0,"ccw":1},
"running":{"address":0,"function":2,"value":1},
"fault":{"address":8,"function":2,"mask":"0x0005","bits":[{"bit":2,"says":"too hot"}]},
"clear":[{"write":7,"function":5,"value":1},{"write":7,"function":5,"value":0},
{"wait":8,"function":2,"value":0}],"dead_man":{"fixed_ms":500}})",
      "f");
  REQUIRE(read.ok());
  CHECK(read->start.size() == 1);
  CHECK(std::get<WriteStep>(read->start[0]).cell.function == Function::write_coil);
  CHECK(read->running->mask == 1); // one bit unless a mask says more
  CHECK(read->running->cell.count() == 1);
  CHECK(read->fault.cell.count() == 3); // as far as the mask goes
  CHECK(std::get<WaitStep>(read->clear[2]).mask == 1);
}

TEST_CASE("drive file: a coil is 0 or 1, and no number") {
  const auto text = drive(R"("run":{"address":8,"function":5,"on":1,"off":0})");
  good(text);
  CHECK(only_fault(with(text, "\"on\":1", "\"on\":255")).pointer == "/run/on");
  CHECK(only_fault(with(text, "\"off\":0", "\"off\":2")).pointer == "/run/off");
  CHECK(only_fault(with(text, "\"address\":2,", "\"address\":2,\"function\":5,")).pointer ==
        "/target/function");
  CHECK(only_fault(with(text, "\"address\":18,", "\"address\":18,\"function\":5,")).pointer ==
        "/fault/function");
  CHECK(only_fault(steps(R"({"write":8,"function":5,"value":2})", put(8, 0))).pointer ==
        "/start/0/value");
  // The coil 4 is not the register 4.
  good(with(text, "\"address\":8,", "\"address\":4,"));
}

TEST_CASE("drive file: one word for run and direction has a value for each way") {
  const auto read = read_drive(
      drive(R"("run":{"address":8,"cw":1,"ccw":2,"off":5},"cut":[{"write":8,"value":6}])"), "f");
  REQUIRE(read.ok());
  const auto start = std::get<WriteStep>(read->start.at(0));
  CHECK(start.value_for(false) == 1);
  CHECK(start.value_for(true) == 2);
  CHECK(std::get<WriteStep>(read->stop.at(0)).value_for(true) == 5);
  CHECK(only_fault(drive(R"("run":{"address":8,"cw":1,"ccw":5,"off":5})")).pointer == "/run/off");
  CHECK(only_fault(drive(R"("run":{"address":8,"cw":1,"off":5})")).pointer == "/run");
  CHECK(only_fault(drive(R"("run":{"address":8,"on":1,"cw":1,"ccw":2,"off":5})")).pointer ==
        "/run/cw");
  // In steps too; what is wrong for one way only is found.
  good(steps(R"({"write":8,"cw":1,"ccw":2})", put(8, 5)));
  CHECK(only_fault(steps(R"({"write":8,"cw":1,"ccw":2})", put(8, 2))).pointer == "/stop/0/value");
  CHECK(only_fault(steps(R"({"write":8,"cw":1})", put(8, 5))).pointer == "/start/0");
}
