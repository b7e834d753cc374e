// whirler run as a process: exit statuses, JSON, and the motor off whatever ends it.
#include <utility> // ahead of Asio: Boost 1.74 forgets it for g++ 12 in C++20

#include "../drive/pty_pair.hpp"
#include "run_program.hpp"
#include "whirler/drive/simulated_drive.hpp"
#include "whirler/notebook/notebook.hpp"
#include "whirler/plant/setup.hpp"

#include <chrono>
#include <csignal>
#include <thread>

using namespace whirler;
using namespace whirler::cli;
using Catch::Matchers::ContainsSubstring;

namespace {

const char* const kProfile = R"({"kind":"profile","format":1,"name":"short",
  "steps":[{"name":"spread","speed_rpm":400,"ramp_rpm_s":800,"dwell_s":1},
           {"name":"thin","speed_rpm":1500,"ramp_rpm_s":1500,"dwell_s":2}],
  "stop":{"ramp_rpm_s":1500}})";

/// At speed within a quarter of a second and soon at rest again, and for as long as it is let.
const char* const kLong = R"({"kind":"profile","format":1,"name":"long",
  "steps":[{"speed_rpm":600,"ramp_rpm_s":3000,"dwell_s":60}],"stop":{"ramp_rpm_s":3000}})";

std::string machine_text(const std::string& drive, const std::string& lid = "switch",
                         const std::string& speed = "6000") {
  return R"({"kind":"machine","format":1,"name":"test bench","drive":)" + drive +
         R"(,"direction":"ccw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,
         "sensor_on":"ground"},"lid":")" +
         lid + R"(","air":"open","limits":{"speed_rpm":)" + speed +
         R"(,"speed_min_rpm":200,"ramp_rpm_s":3000},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4},
         "motor":{"torque_N_m":0.1,"current":"ac"},
         "mount":{"natural_hz":15,"damping":0.08,"moving_mass_g":600}})";
}

const char* const kSimulated = R"({"type":"simulated"})";
std::string on_port(const std::string& port) {
  return R"({"type":"link","port":")" + port + R"(","baud":500000})";
}

struct Desk {
  TestFolder folder;
  std::string profile = folder.write("p.json", kProfile);
  std::string long_profile = folder.write("long.json", kLong);

  Said run(const std::string& machine, const std::string& more = "") const {
    const auto file = folder.write("m.json", machine);
    return run_program("run " + profile + " --machine " + file + " --json --notebook " +
                       folder.path("n.db") + " " + more);
  }
};

/// A simulated spinner of this process, for a `run` of another.
drive::SimulatedDrive spinner() {
  auto setup = plant::make_setup(plant::plain_machine(), std::nullopt);
  REQUIRE(setup.ok());
  drive::SimulationOptions options;
  options.setup = *setup;
  auto started = drive::SimulatedDrive::start(std::move(options));
  REQUIRE(started.ok());
  return std::move(*started);
}

/// Starts `whirler run` on its own, quiet.
pid_t start_run(const Desk& desk, const std::string& port, const std::string& profile) {
  const auto machine = desk.folder.write("m.json", machine_text(on_port(port)));
  const auto notebook = desk.folder.path("n.db");
  const pid_t child = fork();
  if (child == 0) {
    const int nowhere = open("/dev/null", O_RDWR);
    for (const int descriptor : {STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO})
      dup2(nowhere, descriptor);
    execl(WHIRLER_PROGRAM, WHIRLER_PROGRAM, "run", profile.c_str(), "--machine", machine.c_str(),
          "--notebook", notebook.c_str(), static_cast<char*>(nullptr));
    _exit(127);
  }
  return child;
}

bool wait_until(const std::function<bool()>& done, std::chrono::milliseconds patience) {
  const auto until = std::chrono::steady_clock::now() + patience;
  while (!done() && std::chrono::steady_clock::now() < until)
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  return done();
}

} // namespace

TEST_CASE("run: a simulated run ends with status 0 and the keys of its JSON") {
  const Desk desk;
  const auto said = desk.run(machine_text(kSimulated), "--speed-up 10");
  CAPTURE(said.err);
  CHECK(said.status == 0);
  const auto json = said.json();
  CHECK(json.at("outcome") == "done");
  CHECK(json.at("coat") == 1);
  CHECK(json.at("reached") == true);
  CHECK(json.at("peak_error_rpm").get<double>() < 15.0);
  CHECK_FALSE(json.at("jitter").at("verdict").get<std::string>().empty());
  CHECK_FALSE(json.at("jitter").at("reason").get<std::string>().empty());
  CHECK(desk.run(machine_text(kSimulated), "--speed-up 10").json().at("coat") == 2);
}

TEST_CASE("run: without a resist the liquid is taken as flammable, a brushed motor is named once") {
  const Desk desk;
  std::string machine = machine_text(kSimulated);
  const std::string motor = "\"current\":\"ac\"";
  machine.replace(machine.find(motor), motor.size(), "\"current\":\"brushed\"");
  const auto times = [](const std::string& text, const std::string& word) {
    int count = 0;
    for (auto at = text.find(word); at != std::string::npos; at = text.find(word, at + 1))
      ++count;
    return count;
  };
  const auto unnamed = desk.run(machine, "--speed-up 30").err;
  CHECK_THAT(unnamed, ContainsSubstring("take it as flammable"));
  CHECK(times(unnamed, "rushed motor") == 1);
  const auto named = desk.run(machine, std::string("--speed-up 30 --resist ") + WHIRLER_SOURCE_DIR +
                                           "/profiles/resists/amber.json")
                         .err;
  CHECK_THAT(named, ContainsSubstring("lower flammable limit"));
  CHECK(times(named, "rushed motor") == 1);
}

TEST_CASE("run: a lid that opens ends it early, with status 5 and the word") {
  const Desk desk;
  const auto said = desk.run(machine_text(kSimulated), "--speed-up 10 --fault lid@1.5s");
  CHECK(said.status == 5);
  CHECK(said.json().at("outcome") == "lid");
  CHECK(said.json().at("standstill_seen") == true);
}

TEST_CASE(
    "run: with a resist the film is told as the report tells it, in the room as it was said") {
  const Desk desk;
  const auto resist = desk.folder.write("r.json", R"({"kind":"resist","format":1,"name":"moss",
    "viscosity_mPa_s":28,"at_C":25,"density_g_cm3":1.03,"solids_mass_fraction":0.34,
    "solids_density_g_cm3":1.2,"solvent":"pgmea"})");
  const auto film_um = [&](const std::string& more) {
    const auto said = desk.run(machine_text(kSimulated), "--speed-up 10 --resist " + resist + more);
    REQUIRE(said.status == 0);
    const auto film = said.json().at("film");
    CHECK(film.at("interval_um")[0].get<double>() < film.at("thickness_um").get<double>());
    CHECK(film.at("is_set") == false); // a dwell of 2 s sets nothing
    return film.at("thickness_um").get<double>();
  };
  CHECK(film_um(" --temperature 35C") != Approx(film_um(" --temperature 15C")).epsilon(0.01));
  CHECK(desk.run(machine_text(kSimulated), "--speed-up 10").json().at("film").is_null());
}

TEST_CASE("run: a baseline is taken from the coat of the bare hub, or refused before it turns") {
  const Desk desk;
  REQUIRE(desk.run(machine_text(kSimulated), "--speed-up 10").status == 0);
  auto limited = machine_text(kSimulated);
  limited.insert(limited.rfind('}'), R"(,"jitter":{"watch_mm_s":6.3,"stop_mm_s":25})");
  const auto again = desk.run(limited, "--speed-up 10 --baseline 1 --seed 7");
  CHECK(again.status == 0);
  // Bare again, as it was: nothing of the marks' own pattern passes for a plate on the way.
  CHECK_THAT(again.err, !ContainsSubstring("  watch") && !ContainsSubstring("  stop\n"));
  // The record has the bare hub's pulses, so that the coat is judged against them anywhere.
  const auto kept = run_program("show 2 --file baseline --notebook " + desk.folder.path("n.db"));
  CHECK(kept.out.rfind("t_s,mark\n0.0,", 0) == 0);
  const auto jitter = [&](const std::string& words) {
    const auto said =
        run_program("jitter " + words + " --json --notebook " + desk.folder.path("n.db")).json();
    CHECK((said["pattern_from"] == "baseline") == (words != "1"));
    return said["once_per_turn"]["amplitude_mrad"].get<double>();
  };
  CHECK(jitter("2") == Approx(jitter("2 --baseline 1")).epsilon(1e-6));
  CHECK(jitter("1") > 0.0);
  const auto none = desk.run(machine_text(kSimulated), "--speed-up 10 --baseline 9");
  CHECK(none.status == 3);
  // 3: with a plate on, which is no bare hub: its own unbalance would come off the run's.
  const std::string plate = desk.folder.write("b.json", R"({"kind":"blank","format":1,
    "name":"frost gauge","outline":{"rectangle_mm":[90,60]},"thickness_mm":1.6,"copper_um":[35,35],
    "hole":{"diameter_mm":4,"at_mm":[1,0]}})");
  REQUIRE(desk.run(machine_text(kSimulated), "--speed-up 10 --blank " + plate).status == 0);
  const auto plated = desk.run(machine_text(kSimulated), "--speed-up 10 --baseline 3");
  CHECK(plated.status == 3);
  CHECK_THAT(plated.err, ContainsSubstring("a plate was on (frost gauge)"));
  CHECK(run_program("jitter 2 --baseline 3 --notebook " + desk.folder.path("n.db")).status == 3);
  auto other_way = machine_text(kSimulated);
  other_way.replace(other_way.find("\"ccw\""), 5, "\"cw\"");
  CHECK_THAT(desk.run(other_way, "--speed-up 10 --baseline 1").err,
             ContainsSubstring("the spindle turned the other way"));
  const auto table = desk.folder.write("bare.csv", "t_s\n0.1\nhello\n");
  CHECK(desk.run(machine_text(kSimulated), "--speed-up 10 --baseline " + table).status == 3);
}

TEST_CASE("run: a cable that is pulled ends it with status 4") {
  const Desk desk;
  const auto said = desk.run(machine_text(kSimulated), "--speed-up 10 --fault cable@1.5s");
  CHECK(said.status == 4);
  CHECK(said.json().at("outcome") == "link_lost");
}

TEST_CASE("run: files with mistakes and profiles over a limit are status 3, and leave no coat") {
  const Desk desk;
  CHECK(desk.run(machine_text(kSimulated, "switch", "1400")).status == 3);
  CHECK(desk.run("{}").status == 3);
  CHECK(run_program("run nowhere.json --machine nowhere.json").status == 3);
  const auto said = desk.run(machine_text(kSimulated), "--speed-up 10");
  CHECK(said.json().at("coat") == 1);
}

TEST_CASE("run: words that make no command are status 2") {
  const Desk desk;
  CHECK(run_program("run").status == 2);
  CHECK(desk.run(machine_text(kSimulated), "--speed-up 0.5").status == 2);
  CHECK(desk.run(machine_text(kSimulated), "--fault lid").status == 2);
  CHECK(desk.run(machine_text(on_port("/dev/null")), "--speed-up 10").status == 2);
}

TEST_CASE("run: without a lid switch it starts only after a yes, given ahead by --lid-closed") {
  const Desk desk;
  const auto refused = desk.run(machine_text(kSimulated, "none"), "--speed-up 10");
  CHECK(refused.status == 3);
  CHECK(refused.json().at("coat").is_null());
  const auto ran = desk.run(machine_text(kSimulated, "none"), "--speed-up 10 --lid-closed");
  CHECK(ran.status == 0);
  CHECK_THAT(ran.err, Catch::Matchers::ContainsSubstring("No lid switch"));
}

TEST_CASE("run: a port that is missing, no serial line, silent or talking garbage is status 4") {
  const Desk desk;
  const auto status = [&](const std::string& port) {
    const auto said = desk.run(machine_text(on_port(port)), "--patience 400ms");
    CAPTURE(said.err);
    CHECK(said.json().at("outcome") == "refused");
    return said.status;
  };
  CHECK(status("/dev/ttyNONE7") == 4);
  CHECK(status("/dev/null") == 4);
  test::PtyPair line;
  CHECK(status(line.path()) == 4);
  std::thread noise([&] {
    for (int i = 0; i < 300; ++i) {
      line.write({0x7E, 0x12, 0xFF, 0x7E, 0x33});
      std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
  });
  CHECK(status(line.path()) == 4);
  noise.join();
}

TEST_CASE("run: a port that another run holds is busy, and that run goes on") {
  const Desk desk, second;
  auto bench = spinner();
  const pid_t first = start_run(desk, bench.port(), desk.long_profile);
  REQUIRE(wait_until([&] { return bench.truth().speed > rpm(300); }, std::chrono::seconds(10)));
  const auto said = second.run(machine_text(on_port(bench.port())));
  CHECK(said.status == 4);
  CHECK_THAT(said.err, Catch::Matchers::ContainsSubstring("busy"));
  // The first run is still fed (its dead-man is 250 ms) and in charge: it reaches its speed, and
  // ends when it is told to.
  const auto refused_at = bench.truth().at;
  REQUIRE(wait_until([&] { return bench.truth().at - refused_at > seconds(0.5); },
                     std::chrono::seconds(10)));
  CHECK(bench.truth().enabled);
  CHECK(bench.truth().speed > rpm(550));
  kill(first, SIGINT);
  int status = 0;
  waitpid(first, &status, 0);
  CHECK(WEXITSTATUS(status) == 5);
  CHECK(bench.truth().latch == link::Latch::operator_stop);
}

TEST_CASE("run: killed outright, the driver's dead-man has the motor off within its 250 ms") {
  const Desk desk;
  auto bench = spinner();
  const pid_t child = start_run(desk, bench.port(), desk.profile);
  REQUIRE(wait_until([&] { return bench.truth().speed > rpm(1000); }, std::chrono::seconds(10)));
  kill(child, SIGKILL);
  const auto killed_at = bench.truth().at;
  REQUIRE(wait_until([&] { return !bench.truth().enabled; }, std::chrono::seconds(5)));
  CHECK(bench.truth().latch == link::Latch::link_lost);
  CHECK((bench.truth().at - killed_at).ms() < 400.0); // 250, what was on its way, and this watch
  waitpid(child, nullptr, 0);
  auto kept = notebook::Notebook::open_existing(desk.folder.path("n.db"));
  REQUIRE(kept.ok());
  const auto coat = kept->coat(1);
  REQUIRE(coat.ok());
  CHECK(coat->state == notebook::CoatState::broken_off);
  CHECK(coat->pulses.size() > 50); // some 1.5 s had been turning; all but the last second is there
}

TEST_CASE("run: SIGTERM stops by the ramp and ends with status 5") {
  const Desk desk;
  auto bench = spinner();
  const pid_t child = start_run(desk, bench.port(), desk.long_profile);
  REQUIRE(wait_until([&] { return bench.truth().speed > rpm(550); }, std::chrono::seconds(10)));
  kill(child, SIGTERM);
  int status = 0;
  waitpid(child, &status, 0);
  CHECK(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 5);
  CHECK_FALSE(bench.truth().enabled);
  CHECK(bench.truth().latch == link::Latch::operator_stop);
}
