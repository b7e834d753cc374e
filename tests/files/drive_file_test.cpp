// Drive files: every form becomes the description it stands for, every mistake is found where it
// stands.
#include "files_scene.hpp"

#include <span>

using namespace whirler;
using namespace whirler::files;
using namespace whirler::modbus;

namespace {

const std::string kPlain = R"({"kind":"drive","format":1,"name":"reed","unit":3,
"target":{"address":2,"type":"u16","scale_rpm":1},
"actual":{"address":16,"type":"s16","scale_rpm":0.5,"offset_rpm":-10,"function":4,"from":"encoder"},
"direction":{"address":1,"cw":0,"ccw":1},"run":{"address":0,"on":1,"off":0},
"fault":{"address":18,"mask":"0x000F","bits":[{"bit":0,"says":"over current"}]},
"fault_reset":{"address":3,"value":1},
"dead_man":{"address":4,"scale_s":0.1,"time_ms":500}})";

const std::string kFull = R"({"kind":"drive","format":1,"name":"fern","write_function":16,
"word_order":"low_first","read_function":4,"reply":{"within_ms":50,"retries":1},
"target":{"address":"0x60FF","type":"s32","scale_rpm":0.1},
"actual":{"address":"0x606C","type":"f32","scale_rpm":1,"from":"estimate","word_order":"high_first"},
"slope":{"address":40,"scale_s":0.1,"to_rpm":3000},"slope_down":{"address":41,"scale_rpm_s":10},
"direction":{"negative":"cw"},"running":{"address":70,"mask":"0x006F","value":"0x0027"},
"fault":{"address":70,"mask":8},
"fault_code":{"address":71,"codes":[{"code":"0x2310","says":"current"}]},
"dead_man":{"fixed_ms":800},
"limits":{"speed_rpm":4000,"speed_min_rpm":50,"ramp_rpm_s":6000},
"setup":[{"write":1,"value":3}],"clear":[{"write":2,"value":"0x80"}],
"start":[{"write":2,"value":6,"function":6},{"wait":70,"mask":"0x6F","value":"0x21","within_ms":300},
{"wait":72,"value":1}],
"stop":[{"write":2,"value":7}],"cut":[{"write":2,"value":0}]})";

std::string pointer_of(const std::string& text) { return only_fault(text).pointer; }

} // namespace

TEST_CASE("drive file: a speed and a run word") {
  const auto read = read_drive(kPlain, "f");
  REQUIRE(read.ok());
  CHECK(read->name == "reed");
  CHECK(read->unit == 3);
  CHECK(read->target.cell == Cell{2, DataType::u16, WordOrder::high_first, Function::write_one});
  CHECK(read->actual.cell == Cell{16, DataType::s16, WordOrder::high_first, Function::read_input});
  CHECK(read->actual.value_of(std::vector<std::uint16_t>{100}).rpm() == Approx(40));
  CHECK(read->actual_from == SpeedSource::encoder);
  CHECK(read->direction->cell->address == 1);
  CHECK(read->direction->counterclockwise == 1);
  CHECK(read->fault.mask == 0x000F);
  CHECK(read->fault.bits.at(0).words == "over current");
  CHECK(read->dead_man->time.ms() == Approx(500));
  CHECK(read->dead_man->set_by->words_for(read->dead_man->time) == std::vector<std::uint16_t>{5});
  CHECK_FALSE(read->slope);
  CHECK(read->reply_within.ms() == Approx(100));
  // "run" and "fault_reset" are the sequences in short.
  REQUIRE(read->start.size() == 1);
  CHECK(std::get<WriteStep>(read->start[0]).value == 1);
  CHECK(std::get<WriteStep>(read->stop.at(0)).value == 0);
  REQUIRE(read->clear.size() == 2);
  CHECK(std::get<WriteStep>(read->clear[0]).cell.address == 3);
  CHECK(std::get<WaitStep>(read->clear[1]).mask == 0x000F);
  CHECK(read->cut.empty());
}

TEST_CASE(
    "drive file: sequences, 32-bit values, defaults of the whole file and exceptions to them") {
  const auto read = read_drive(kFull, "f");
  REQUIRE(read.ok());
  CHECK(read->unit == 1);
  CHECK(read->retries == 1);
  CHECK(read->target.cell ==
        Cell{0x60FF, DataType::s32, WordOrder::low_first, Function::write_many});
  CHECK(read->actual.cell ==
        Cell{0x606C, DataType::f32, WordOrder::high_first, Function::read_input});
  CHECK(read->slope->words_for(rpm_per_s(1000)) == std::vector<std::uint16_t>{30});
  CHECK(read->slope_down->words_for(rpm_per_s(1000)) == std::vector<std::uint16_t>{100});
  CHECK_FALSE(read->direction->cell);
  CHECK_FALSE(read->direction->negative_is_counterclockwise);
  CHECK(read->running->value == 0x27);
  CHECK(read->fault_code->codes.at(0).code == 0x2310);
  CHECK(read->dead_man->time.ms() == Approx(800));
  CHECK_FALSE(read->dead_man->set_by);
  CHECK(highest_speed(*read).rpm() == Approx(4000));
  REQUIRE(read->start.size() == 3);
  CHECK(std::get<WriteStep>(read->start[0]).cell.function == Function::write_one);
  CHECK(std::get<WaitStep>(read->start[1]).within.ms() == Approx(300));
  CHECK(std::get<WaitStep>(read->start[1]).cell.function == Function::read_input);
  CHECK(std::get<WaitStep>(read->start[2]).mask == 0xFFFF);
  CHECK(std::get<WriteStep>(read->stop.at(0)).cell.function == Function::write_many);
  CHECK(read->cut.size() == 1);
}

namespace {

struct Hurt {
  const std::string& good;
  const char* from;
  const char* to;
  const char* pointer;
};

void each_is_found(std::span<const Hurt> hurts) {
  for (const auto& hurt : hurts) {
    CAPTURE(hurt.from, hurt.to);
    CHECK(pointer_of(with(hurt.good, hurt.from, hurt.to)) == hurt.pointer);
  }
}

} // namespace

TEST_CASE("drive file: a value of 32 bits over its neighbour is found, of two the second") {
  const Hurt hurts[] = {
      {kFull, "\"address\":40,", "\"address\":\"0x6100\",", "/slope/address"}, // 0x60FF has it
      {kFull, "\"address\":40,", "\"address\":40,\"type\":\"u32\",", "/slope_down/address"},
      {kFull, "\"address\":71,", "\"address\":\"0x606D\",", "/fault_code/address"},
  };
  each_is_found(hurts);
}

TEST_CASE("drive file: each mistake is found where it stands") {
  const Hurt hurts[] = {
      {kPlain, "\"name\":\"reed\",", "", "/name"},
      {kPlain, "\"unit\":3", "\"unit\":0", "/unit"}, // the broadcast
      {kPlain, "\"unit\":3", "\"unit\":248", "/unit"},
      {kPlain, "\"address\":2,", "\"address\":65536,", "/target/address"},
      {kPlain, "\"address\":2,", "\"address\":\"0x1FFFF\",", "/target/address"},
      {kPlain, "\"address\":2,", "\"address\":\"60FF\",", "/target/address"},
      {kPlain, "\"address\":2,", "\"address\":1.5,", "/target/address"},
      {kPlain, "\"type\":\"u16\"", "\"type\":\"u61\"", "/target/type"},
      {kPlain, "\"scale_rpm\":1}", "\"scale_rpm\":0}", "/target/scale_rpm"},
      {kPlain, "\"function\":4", "\"function\":6", "/actual/function"},
      {kPlain, ",\"from\":\"encoder\"", "", "/actual/from"},
      {kPlain, "\"cw\":0,\"ccw\":1", "\"cw\":1,\"ccw\":1", "/direction/ccw"},
      {kPlain, "\"cw\":0,\"ccw\":1", "\"ccw\":1", "/direction"},
      {kPlain, "\"on\":1,\"off\":0", "\"on\":1,\"off\":1", "/run/off"},
      {kPlain, "\"run\":{\"address\":0,\"on\":1,\"off\":0},",
       "\"run\":{\"address\":0,\"on\":1,\"off\":0},\"stop\":[{\"write\":0,\"value\":0}],", "/stop"},
      {kPlain, "\"bit\":0", "\"bit\":5", "/fault/bits/0"},
      {kPlain, "\"mask\":\"0x000F\",\"bits\":[{\"bit\":0,\"says\":\"over current\"}]", "\"mask\":0",
       "/fault/mask"},
      {kPlain, "\"time_ms\":500", "\"time_ms\":1500", "/dead_man/time_ms"}, // over 1 s
      {kPlain, "\"time_ms\":500", "\"time_ms\":550", "/dead_man/time_ms"},  // 5.5 counts
      {kPlain, "\"scale_s\":0.1,\"time_ms\":500", "\"time_ms\":500", "/dead_man"},
      {kPlain, "\"address\":4,\"scale_s\":0.1,\"time_ms\":500", "\"scale_s\":0.1", "/dead_man"},
      {kPlain, "\"type\":\"u16\",\"scale_rpm\":1}",
       "\"type\":\"u32\",\"scale_rpm\":1,\"function\":6}", "/target/function"},
      {kPlain, "\"fault_reset\"", "\"clear\":[{\"write\":3,\"value\":1}],\"fault_reset\"",
       "/clear"},
      {kPlain, "\"direction\":{\"address\":1,\"cw\":0,\"ccw\":1}",
       "\"direction\":{\"negative\":\"ccw\"}", "/target/type"},
      {kPlain, "\"unit\":3", "\"limits\":{\"speed_rpm\":70000}", "/limits/speed_rpm"},
      {kFull, "\"within_ms\":50", "\"within_ms\":450", "/reply/within_ms"}, // half of 800 ms
      {kFull, "\"slope\":{\"address\":40,\"scale_s\":0.1,\"to_rpm\":3000},", "", "/slope_down"},
      {kFull, "\"scale_s\":0.1,\"to_rpm\":3000", "\"scale_s\":0.1", "/slope"},
      {kFull, "\"scale_rpm_s\":10", "\"scale_rpm_s\":10,\"to_rpm\":3000", "/slope_down/to_rpm"},
      {kFull, "\"address\":\"0x60FF\"", "\"address\":\"0xFFFF\"", "/target/address"},
      {kFull, "\"value\":\"0x0027\"", "\"value\":\"0x0080\"", "/running/value"},
      {kFull, "\"value\":\"0x21\"", "\"value\":\"0x80\"", "/start/1/value"},
      {kFull, "\"value\":6,\"function\":6", "\"value\":6,\"function\":3", "/start/0/function"},
      {kFull, "\"value\":6,\"function\":6", "\"value\":6,\"within_ms\":5", "/start/0/within_ms"},
      {kFull, "{\"wait\":72,\"value\":1}", "{\"value\":1}", "/start/2"},
      {kFull, "\"stop\":[{\"write\":2,\"value\":7}]", "\"stop\":[]", "/stop"},
      {kFull, "\"speed_min_rpm\":50", "\"speed_min_rpm\":5000", "/limits/speed_min_rpm"},
      {kFull, "\"read_function\":4", "\"read_function\":5", "/read_function"},
      {kFull, "\"word_order\":\"low_first\"", "\"word_order\":\"big\"", "/word_order"},
      {kFull, "\"cut\"", "\"cutt\"", "/cutt"},
      {kFull, "\"cut\":[", "\"cut\":[{\"wait\":70,\"value\":0},", "/cut/0"},
  };
  each_is_found(hurts);
}

TEST_CASE("drive file: several mistakes are all said at once, each with line and column") {
  const auto faults = faults_in(with(with(kPlain, "\"scale_rpm\":1}", "\"scale_rpm\":-1}"),
                                     "\"value\":1}", "\"value\":70000}"));
  REQUIRE(faults.size() == 2);
  CHECK(faults[0].pointer == "/target/scale_rpm");
  CHECK(faults[0].line == 2);
  CHECK(faults[1].pointer == "/fault_reset/value");
  CHECK(faults[1].line == 6);
}

TEST_CASE("machine file: a Modbus drive, and what its line is unless it says so") {
  const auto modbus = [](const std::string& keys) {
    return with(kMachine, R"("type":"link","port":"/dev/ttyUSB0","baud":115200)",
                R"("type":"modbus","port":"/dev/ttyUSB0","description":"reed.json")" + keys);
  };
  const auto plain = read_machine(modbus(""), "f");
  REQUIRE(plain.ok());
  CHECK(plain->drive.line() == LineFormat{19200, Parity::even, 1});
  CHECK(plain->drive.unit == 0);
  CHECK(plain->drive.tach_port.empty());
  const auto full = read_machine(
      modbus(
          R"(,"baud":500000,"parity":"none","unit":7,"tach_port":"/dev/ttyUSB1","tach_baud":115200)"),
      "f");
  REQUIRE(full.ok());
  CHECK(full->drive.line() == LineFormat{500000, Parity::none, 2});
  CHECK(full->drive.unit == 7);
  CHECK(full->drive.tach_baud == 115200);
  CHECK(read_machine(modbus(R"(,"parity":"none","stop_bits":1)"), "f")->drive.stop_bits == 1);
  CHECK(pointer_of(modbus(R"(,"parity":"mark")")) == "/drive/parity");
  CHECK(pointer_of(modbus(R"(,"unit":0)")) == "/drive/unit");
  CHECK(pointer_of(with(modbus(""), R"(,"description":"reed.json")", "")) == "/drive/description");
  CHECK(pointer_of(with(kMachine, "\"baud\"", "\"parity\":\"even\",\"baud\"")) == "/drive/parity");
  CHECK(pointer_of(with(kMachine, "\"baud\"", "\"tach_port\":\"x\",\"baud\"")) ==
        "/drive/tach_port");
}
