// Mistakes: each is found, at its place, and all of a file in one go.
#include "files_scene.hpp"

#include <chrono>

using namespace whirler;
using namespace whirler::files;
using Catch::Matchers::ContainsSubstring;

namespace {

struct Hurt {
  const std::string& text;
  const char* from;
  const char* to;
  const char* pointer;
};

// One slip each in a good file: what stands there, what is put there, and where the fault must be.
const std::vector<Hurt> kHurts{
    // profile
    Hurt{kProfile, "\"speed_rpm\":500", "\"speed_rpm\":-500", "/steps/0/speed_rpm"},
    Hurt{kProfile, "\"speed_rpm\":500", "\"speed_rpm\":1e9", "/steps/0/speed_rpm"},
    Hurt{kProfile, "\"speed_rpm\":500", "\"speed_rpm\":\"500\"", "/steps/0/speed_rpm"},
    Hurt{kProfile, "\"speed_rpm\":500", "\"speed_rpm\":null", "/steps/0/speed_rpm"},
    Hurt{kProfile, "\"speed_rpm\":500,", "", "/steps/0/speed_rpm"},
    Hurt{kProfile, "\"ramp_rpm_s\":500", "\"ramp_rpm_s\":0", "/steps/0/ramp_rpm_s"},
    Hurt{kProfile, "\"ramp_rpm_s\":500,", "", "/steps/0"},
    Hurt{kProfile, "\"ramp_s\":2.5", "\"ramp_s\":-1", "/steps/1/ramp_s"},
    Hurt{kProfile, "\"ramp_s\":2.5", "\"ramp_s\":2.5,\"ramp_rpm_s\":9", "/steps/1/ramp_s"},
    Hurt{kProfile, "\"dwell_s\":45", "\"dwell_s\":[45]", "/steps/1/dwell_s"},
    Hurt{kProfile, "\"dwell_s\":45", "\"dwell_s\":45,\"dwell_s\":4", "/steps/1/dwell_s"},
    Hurt{kProfile, "\"name\":\"thin\",\"steps\"", "\"name\":7,\"steps\"", "/name"},
    Hurt{kProfile, "\"name\":\"thin\",\"steps\"", "\"name\":\"a\\nb\",\"steps\"", "/name"},
    Hurt{kProfile, "\"stop\"", "\"halt\":1,\"stop\"", "/halt"},
    Hurt{kProfile, "\"stop\":{\"ramp_rpm_s\":1000}", "\"stop\":1000", "/stop"},
    Hurt{kProfile, ",\n\"stop\":{\"ramp_rpm_s\":1000}", "", "/stop"},
    // resist
    Hurt{kResist, "25,\"at_C\"", "0,\"at_C\"", "/viscosity_mPa_s"},
    Hurt{kResist, "\"at_C\":23", "\"at_C\":-3", "/at_C"},
    Hurt{kResist, "1.02", "1020", "/density_g_cm3"},
    Hurt{kResist, "0.36", "36", "/solids_mass_fraction"},
    Hurt{kResist, "0.36", "1", "/solids_mass_fraction"},
    Hurt{kResist, "\"pgmea\"", "null", "/solvent"},
    Hurt{kResist, "\"pgmea\"", "\"unobtainium\"", "/solvent"},
    Hurt{kResist, "\"pgmea\"", "[]", "/solvent"}, Hurt{kResist, "\"pgmea\"", "5", "/solvent"},
    Hurt{kResist, "\"solids_density_g_cm3\":1.2,", "", "/solids_density_g_cm3"},
    Hurt{kResist, "\"solids_density_g_cm3\":1.2,", "\"solids_density_g_cm3\":0,",
         "/solids_density_g_cm3"},
    Hurt{kResist, "\"pgmea\"", R"([{"name":"pgmea","mass_share":0.5}])", "/solvent"},
    Hurt{kResist, "\"pgmea\"",
         R"([{"name":"pgmea","mass_share":0.5},{"name":"pgmea","mass_share":0.5}])", "/solvent/1"},
    Hurt{kResist, "\"pgmea\"", R"([{"name":"sea","mass_share":1}])", "/solvent/0/name"},
    Hurt{kResist, "\"pgmea\"", R"("pgmea","witness":[{"speed_rpm":0,"thickness_um":1}])",
         "/witness/0/speed_rpm"},
    Hurt{kResist, "\"pgmea\"", R"("pgmea","power_law":{"n":0,"kappa_Pa_sn":1})", "/power_law/n"},
    Hurt{kResist, "\"pgmea\"",
         R"("pgmea","wedge":{"irradiance_mW_cm2":8,"time_s":20,"film_um":5,
              "steps":[{"density":0.15,"left_um":7}]})",
         "/wedge/steps/0/left_um"},
    // blank
    Hurt{kBlank, "[100,80]", "[100]", "/outline/rectangle_mm"},
    Hurt{kBlank, "[100,80]", "[100,0]", "/outline/rectangle_mm/1"},
    Hurt{kBlank, "[100,80]", "[100,80],\"disc_mm\":5", "/outline/disc_mm"},
    Hurt{kBlank, "\"rectangle_mm\":[100,80]", "", "/outline"},
    Hurt{kBlank, "\"rectangle_mm\":[100,80]", "\"polygon_mm\":[[0,0],[9,9],[9,0],[0,9]]",
         "/outline/polygon_mm"},
    Hurt{kBlank, "\"rectangle_mm\":[100,80]", "\"polygon_mm\":[[0,0],[9,9],[20,20]]",
         "/outline/polygon_mm"},
    Hurt{kBlank, "\"rectangle_mm\":[100,80]", "\"polygon_mm\":[[0,0],[9,9]]",
         "/outline/polygon_mm"},
    Hurt{kBlank, "[35,18]", "[35,-1]", "/copper_um/1"},
    Hurt{kBlank, "[0.6,-0.3]", "[60,0]", "/hole"}, Hurt{kBlank, "[0.6,-0.3]", "[48.5,0]", "/hole"},
    Hurt{kBlank, "4.2", "85", "/hole"}, Hurt{kBlank, ",\"at_mm\":[0.6,-0.3]", "", "/hole"},
    Hurt{kBlank, "\"at_mm\":[0.6,-0.3]", "\"at_mm\":[0.6,-0.3],\"edge_distances_mm\":[48,48,38,38]",
         "/hole"},
    Hurt{kBlank, "\"at_mm\":[0.6,-0.3]", "\"edge_distances_mm\":[48,28,38,38]",
         "/hole/edge_distances_mm"},
    Hurt{kBlank, "\"hole\"", R"("holes":[{"diameter_mm":3,"at_mm":[60,0]}],"hole")", "/holes/0"},
    Hurt{kBlank, "\"hole\"", R"("holes":[{"diameter_mm":3,"at_mm":[2,0]}],"hole")", "/holes/0"},
    // machine
    Hurt{kMachine, "\"link\"", "\"linc\"", "/drive/type"},
    Hurt{kMachine, "\"port\":\"/dev/ttyUSB0\",", "", "/drive/port"},
    Hurt{kMachine, "115200", "115200.5", "/drive/baud"},
    Hurt{kMachine, "\"ccw\"", "\"left\"", "/direction"},
    Hurt{kMachine, "\"marks_per_turn\":6", "\"marks_per_turn\":0", "/tach/marks_per_turn"},
    Hurt{kMachine, "\"marks_per_turn\":6", "\"marks_per_turn\":6.5", "/tach/marks_per_turn"},
    Hurt{kMachine, "\"index\":true", "\"index\":1", "/tach/index"},
    Hurt{kMachine, "\"speed_min_rpm\":200", "\"speed_min_rpm\":6001", "/limits/speed_min_rpm"},
    Hurt{kMachine, "\"watch_mm_s\":6.3", "\"watch_mm_s\":41", "/jitter/watch_mm_s"},
    Hurt{kMachine, "\"watch_mrad\":3", "\"watch_mrad\":9.5", "/jitter/watch_mrad"},
    Hurt{kMachine, "\"stop_mm_s\":40,\"watch_mrad\":3,", "", "/jitter/stop_mrad"},
    Hurt{kMachine, "\"watch_mm_s\":6.3,\"stop_mm_s\":40,\"watch_mrad\":3,\"stop_mrad\":9",
         "\"watch_mrad\":3,\"stop_mm_s\":40", "/jitter/stop_mm_s"},
    Hurt{kMachine, "\"watch_mm_s\":6.3,\"stop_mm_s\":40", "\"watch_N\":3,\"stop_N\":2",
         "/jitter/watch_N"},
    Hurt{kMachine, "\"watch_mm_s\":6.3,", "\"watch_N\":3,", "/jitter/watch_N"},
    Hurt{kMachine, "\"stop_mm_s\":40,", "\"stop_N\":3,", "/jitter/stop_N"},
    Hurt{kMachine, "\"watch_mm_s\":6.3,\"stop_mm_s\":40,\"watch_mrad\":3,\"stop_mrad\":9",
         "\"watch_N\":3,\"stop_mrad\":9", "/jitter/stop_mrad"},
    Hurt{kMachine, "\"moving_mass_g\":600", "\"moving_mass_g\":299", "/mount/moving_mass_g"},
    Hurt{kMachine, "\"damping\":0.08,", "", "/mount/damping"},
    Hurt{kMachine, "\"lid\":\"wired_to_drive\",", "", "/lid"},
    Hurt{kMachine, "1e-4", "0", "/rotor/inertia_kg_m2"}};

} // namespace

TEST_CASE("faults: one slip in a good file gives one fault with its pointer") {
  for (const Hurt& hurt : kHurts) {
    CAPTURE(hurt.from, hurt.to);
    CHECK(only_fault(with(hurt.text, hurt.from, hurt.to)).pointer == hurt.pointer);
  }
}

TEST_CASE("faults: all mistakes of a file come in one go, in the order of the text") {
  const auto faults = faults_in("// a bench\n"
                                "{\"kind\":\"profile\",\"format\":1,\"nam\":\"x\",\n"
                                " \"steps\":[{\"speed_rpm\":-1,\"ramp_s\":1,\"dwell_s\":2},\n"
                                "  {\"speed_rpm\":1,\"dwell_s\":\"2\"}],\n"
                                " \"stop\":{\"ramp_rpm_s\":0,\"x\":1}}");
  REQUIRE(faults.size() == 6);
  const auto place = [&](std::size_t i) {
    return std::to_string(faults[i].line) + ":" + std::to_string(faults[i].column) + " " +
           faults[i].pointer;
  };
  CHECK(place(0) == "2:30 /nam");
  CHECK(place(1) == "3:24 /steps/0/speed_rpm");
  CHECK(place(2) == "4:3 /steps/1");
  CHECK(place(3) == "4:28 /steps/1/dwell_s");
  CHECK(place(4) == "5:23 /stop/ramp_rpm_s");
  CHECK(place(5) == "5:25 /stop/x");
  CHECK_THAT(faults[0].next, ContainsSubstring("\"name\""));
}

TEST_CASE("faults: columns count characters, not bytes, and the byte order mark not at all") {
  const auto fault = faults_in("\xEF\xBB\xBF{\"kind\":\"profile\",\"format\":1,"
                               "\"name\":\"µµµ\",\"stepz\":1,\"steps\":[{\"speed_rpm\":1,"
                               "\"ramp_s\":1,\"dwell_s\":1}],\"stop\":{\"ramp_rpm_s\":1}}");
  REQUIRE(fault.size() == 1);
  CHECK(fault[0].column == 43);
}

TEST_CASE("faults: kind first, format second, both right") {
  CHECK(only_fault(with(kProfile, "\"format\":1", "\"format\":2")).pointer == "/format");
  CHECK(only_fault(with(kProfile, "\"format\":1", "\"format\":\"1\"")).pointer == "/format");
  CHECK(only_fault(with(kProfile, "\"format\":1,", "")).pointer == "/format");
  CHECK(only_fault(with(kProfile, "\"kind\":\"profile\",", "")).pointer == "/kind");
  CHECK(only_fault(with(kProfile, "\"profile\"", "\"profil\"")).next ==
        "did you mean \"profile\"?");
  CHECK(only_fault(with(kProfile, "\"profile\"", "7")).pointer == "/kind");
  const auto swapped = faults_in(
      with(kProfile, "\"kind\":\"profile\",\"format\":1", "\"format\":1,\"kind\":\"profile\""));
  REQUIRE(swapped.size() == 2);
  CHECK(swapped[0].pointer == "/kind");
  const auto other = read_machine(kProfile, "f.json");
  REQUIRE_FALSE(other.ok());
  REQUIRE(other.faults().size() == 1);
  CHECK(other.faults()[0].found == "\"profile\"");
  CHECK(other.faults()[0].allowed == "\"machine\"");
}

TEST_CASE("faults: a mistake of syntax is named where it stands") {
  struct Broken {
    const char* text;
    std::size_t line;
    std::size_t column;
    const char* found;
  };
  const auto broken = GENERATE(
      Broken{"", 1, 1, "end of the text"}, Broken{"{\"kind\":\"profile\",}", 1, 19, "}"},
      Broken{"{\"kind\":\"profile\"\n \"format\":1}", 2, 2, "\"format\""},
      Broken{"{'kind':1}", 1, 2, "'"}, Broken{"{\"kind\":nan}", 1, 9, "nan"},
      Broken{"{\"kind\":True}", 1, 9, "True"}, Broken{"{\"a\":1e999}", 1, 6, "1e999"},
      Broken{"{\"a\":1} x", 1, 9, "x"}, Broken{"{\"a\":1}{", 1, 8, "{"},
      Broken{"{\"a\":[1 2]}", 1, 9, "2"}, Broken{"{\"a\":[1,\n2", 2, 2, "end of the text"},
      Broken{"{\"a\" 1}", 1, 6, "1"}, Broken{"/* never", 1, 8, "missing closing '*/'"},
      Broken{"{\"a\":\"\xFF\"}", 1, 7, "\\xff"}, Broken{"{} // \xE9t\xE9", 1, 7, "\\xe9"},
      Broken{"{\"a\":01}", 1, 6, "01"}, Broken{"{\"a\":\"line\nend\"}", 1, 11, "control character"},
      Broken{"{\"a\":null true}", 1, 11, "true"});
  CAPTURE(broken.text);
  const auto fault = only_fault(broken.text);
  CHECK(fault.line == broken.line);
  CHECK(fault.column == broken.column);
  CHECK_THAT(fault.found, ContainsSubstring(broken.found));
}

TEST_CASE("faults: a zero byte does not end the text, nor does anything hide behind it") {
  const auto fault = only_fault(kProfile + std::string(1, '\0') + "rest");
  CHECK(fault.found == "a zero byte");
  CHECK(fault.line == 4);
}

TEST_CASE("faults: a file cannot write to the terminal through its mistakes") {
  const std::string bell = "\"\\u001b[2J\x7F\xC2\x9B\"";
  const auto fault =
      only_fault(with(kProfile, "\"name\":\"thin\",\"steps\"", "\"name\":" + bell + ",\"steps\""));
  for (const char c : to_text(fault)) {
    CHECK(static_cast<unsigned char>(c) >= 0x20);
    CHECK(c != '\x7F');
    CHECK(c != '\x9B');
  }
}

TEST_CASE("faults: keys with / and ~ are written as JSON Pointer wants them") {
  CHECK(only_fault(with(kProfile, "\"stop\"", "\"a/b~c\":1,\"stop\"")).pointer == "/a~1b~0c");
}

TEST_CASE("faults: no depth, length or number of mistakes costs more than a moment") {
  const auto began = std::chrono::steady_clock::now();
  CHECK(only_fault(std::string(1'000'000, '[')).line == 1);
  CHECK_THAT(only_fault("[" + std::string(1'000'000, ' ') + std::string(200'000, '1')).found,
             ContainsSubstring("bytes"));
  std::string many = "{\"kind\":\"profile\",\"format\":1";
  for (int i = 0; i < 60'000; ++i)
    many += ",\"k" + std::to_string(i) + "\":0";
  CHECK(faults_in(many + "}").size() == 100);
  std::string repeated = "{\"kind\":\"profile\",\"format\":1";
  for (int i = 0; i < 60'000; ++i)
    repeated += ",\"name\":0";
  CHECK(faults_in(repeated + "}").size() == 100);
  std::string values = "[0";
  for (int i = 0; i < 400'000; ++i)
    values += ",0";
  CHECK_THAT(only_fault(values + "]").found, ContainsSubstring("too many values"));
  // A bound against work that grows with the square: some 50 ms are used, tens of minutes would be.
  CHECK(std::chrono::steady_clock::now() - began < std::chrono::seconds(30));
}

TEST_CASE("faults: as one fault of a command they name the first and count the rest") {
  auto faults = faults_in(with(kProfile, "\"dwell_s\":5", "\"dwell_s\":-5,\"x\":0"));
  REQUIRE(faults.size() == 2);
  const Fault fault = to_fault(faults);
  CHECK(fault.kind == FaultKind::input);
  CHECK(fault.where == "f.json:2:61");
  CHECK_THAT(fault.what, ContainsSubstring("/steps/0/dwell_s"));
  CHECK_THAT(fault.what, ContainsSubstring("1 more"));
}

TEST_CASE("faults: no guess at a word of two letters, where a slip would be another word") {
  const auto guess = [](const char* word) {
    auto read =
        read_machine(with(kMachine, "\"brushed\"", std::string("\"") + word + "\""), "m.json");
    REQUIRE(read.faults().size() == 1);
    CHECK(read.faults()[0].pointer == "/motor/current");
    return read.faults()[0].next;
  };
  CHECK(guess("dc").empty());
  CHECK(guess("brush") == "did you mean \"brushed\"?");
}
