// Files of a made-up board on a simulated spinner, in a folder of their own, and its notebook.
#pragma once

#include "catch.hpp"
#include "run_program.hpp"
#include "whirler/notebook/notebook.hpp"

#include <string>
#include <vector>

namespace whirler::cli {

inline constexpr auto kMachine = R"({"kind":"machine","format":1,"drive":{"type":"simulated"},
  "direction":"cw","tach":{"marks_per_turn":6,"mark_radius_mm":15,"index":true,"sensor_on":"ground"},
  "lid":"switch","air":"open","limits":{"speed_rpm":5000,"speed_min_rpm":200,"ramp_rpm_s":2000},
  "rotor":{"mass_g":300,"inertia_kg_m2":1e-4},"motor":{"torque_N_m":0.2,"current":"ac"}})";
inline constexpr auto kPlate = R"({"kind":"blank","format":1,"outline":{"rectangle_mm":[70,60]},
  "thickness_mm":1.6,"copper_um":[35,35],"hole":{"diameter_mm":4.2,"at_mm":[0,0]}})";
inline constexpr auto kResist = R"({"kind":"resist","format":1,"name":"moss","viscosity_mPa_s":28,
  "at_C":25,"density_g_cm3":1.03,"solids_mass_fraction":0.34,"solids_density_g_cm3":1.2,
  "solvent":"pgmea","wedge":{"irradiance_mW_cm2":8,"time_s":60,"film_um":4,"steps":[
  {"density":0.15,"left_um":4},{"density":0.3,"left_um":3.8},{"density":0.45,"left_um":2.9},
  {"density":0.6,"left_um":1.9},{"density":0.75,"left_um":0.8},{"density":0.9,"left_um":0}]}})";
inline constexpr auto kBoard = R"({"kind":"board","format":1,"name":"hail 3","resist":"r.json",
  "blank":"b.json","machine":"m.json","target_um":2.4,"sides":["sun","shade"],
  "lamp_mW_cm2":8})";

/// The files of a board in a folder of their own.
class Bench {
 public:
  Bench() {
    folder.write("m.json", kMachine);
    folder.write("b.json", kPlate);
    folder.write("r.json", kResist);
    folder.write("board.json", kBoard);
  }
  [[nodiscard]] std::string words() const {
    return "coat " + folder.path("board.json") + " --speed-up 40 --json --notebook " + book();
  }
  [[nodiscard]] std::string book() const { return folder.path("book.db"); }
  [[nodiscard]] std::vector<notebook::CoatLine> log() const {
    auto notebook = notebook::Notebook::open_existing(book());
    REQUIRE(notebook.ok());
    const auto lines = notebook->log();
    REQUIRE(lines.ok());
    return *lines;
  }
  [[nodiscard]] notebook::Coat coat(std::int64_t number) const {
    auto notebook = notebook::Notebook::open_existing(book());
    REQUIRE(notebook.ok());
    const auto coat = notebook->coat(number);
    REQUIRE(coat.ok());
    return *coat;
  }
  /// What a command answers about this bench's notebook.
  [[nodiscard]] Said ask(const std::string& words) const {
    return run_program(words + " --notebook " + book());
  }
  [[nodiscard]] std::vector<std::string> noted() const {
    auto notebook = notebook::Notebook::open_existing(book());
    REQUIRE(notebook.ok());
    const auto notes = notebook->notes();
    REQUIRE(notes.ok());
    std::vector<std::string> kinds;
    for (const notebook::Note& note : *notes)
      kinds.push_back(note.kind);
    return kinds;
  }

  TestFolder folder;
};

} // namespace whirler::cli
