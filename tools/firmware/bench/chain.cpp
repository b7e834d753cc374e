#include "chain.hpp"

#include <algorithm>
#include <cstdio>
#include <nlohmann/json.hpp>

namespace bench {

namespace {

constexpr Cycles kLook = kCyclesPerMs;
constexpr double kHurry = 20.0;

std::string number(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.0f", value);
  return text;
}

RigModel quick_rig(const StandModel& model) {
  RigModel rig = rig_model(model);
  if (model.image.find("quick") != std::string::npos)
    rig.controller.arm_after = ms(200); // as quick as the build that drives it
  return rig;
}

std::vector<std::string> command(const std::string& program, const ChainFiles& files,
                                 const ScratchFolder& folder, const std::string& port) {
  std::vector<std::string> words{program,
                                 "run",
                                 folder.write("profile.json", profile_text(files)),
                                 "--machine",
                                 folder.write("machine.json", machine_text(files, port)),
                                 "--notebook",
                                 folder.path() + "/notebook.db",
                                 "--json"};
  if (files.lid == "none")
    words.emplace_back("--lid-closed");
  return words;
}

/// Rested before the host comes, with the line as bad as it will be.
LiveStand& rested(LiveStand& stand, double damage) {
  stand.chip.run_for(ms(1300));
  stand.line.damage(damage);
  return stand;
}

} // namespace

std::string machine_text(const ChainFiles& files, const std::string& port) {
  return R"({"kind":"machine","format":1,"name":"bench","drive":{"type":"link","port":")" + port +
         R"(","baud":500000},"direction":"cw","tach":{"marks_per_turn":)" +
         std::to_string(files.marks) + R"(,"mark_radius_mm":15,"index":)" +
         (files.index ? "true" : "false") + R"(,"sensor_on":"ground"},"lid":")" + files.lid +
         R"(","air":"open","limits":{"speed_rpm":)" + number(files.speed_limit_rpm) +
         R"(,"speed_min_rpm":200,"ramp_rpm_s":3000},"rotor":{"mass_g":300,"inertia_kg_m2":1e-4}})";
}

std::string profile_text(const ChainFiles& files) {
  if (!files.profile.empty())
    return files.profile;
  return R"({"kind":"profile","format":1,"name":"two steps","steps":[
    {"speed_rpm":500,"ramp_rpm_s":1000,"dwell_s":0.7},
    {"speed_rpm":1500,"ramp_rpm_s":1500,"dwell_s":0.7}],"stop":{"ramp_rpm_s":1500}})";
}

Chain::Chain(const std::string& program, const StandModel& model, const ChainFiles& files,
             double damage)
    : stand(model.image, quick_rig(model)),
      host(command(program, files, folder_, rested(stand, damage).path()), folder_.path()) {}

void Chain::serve(double hurry) {
  stand.run_for(kLook, hurry);
  top_rpm_ = std::max(top_rpm_, stand.rig.rpm());
}

bool Chain::reach(Moment moment) {
  const Cycles end = stand.chip.now() + ms(20000);
  while (stand.chip.now() < end && !host.ended()) {
    if (stand.heard() && shows(moment, *stand.heard()))
      return true;
    serve(1.0);
  }
  return false;
}

bool Chain::until_off(Cycles patience) {
  const Cycles end = stand.chip.now() + patience;
  while (enabled() && stand.chip.now() < end)
    serve(1.0);
  return !enabled();
}

std::optional<int> Chain::until_ended() {
  const Cycles end = stand.chip.now() + ms(150000);
  while (!host.ended() && stand.chip.now() < end)
    serve(enabled() ? 1.0 : kHurry);
  return host.ended();
}

HostAnswer Chain::answer() const {
  HostAnswer answer;
  const auto json = nlohmann::json::parse(host.answer(), nullptr, false);
  if (!json.is_object())
    return answer;
  answer.outcome = json.value("outcome", "");
  if (const auto faults = json.find("faults"); faults != json.end() && !faults->empty())
    answer.first_fault = faults->front().dump();
  const auto number = [&json](const char* key, double otherwise) {
    const auto found = json.find(key);
    return found != json.end() && found->is_number() ? found->get<double>() : otherwise;
  };
  answer.peak_error_rpm = number("peak_error_rpm", -1.0);
  answer.clock_ratio = number("clock_ratio", 0.0);
  answer.pulses_lost = static_cast<std::uint64_t>(number("pulses_lost", 0.0));
  return answer;
}

} // namespace bench
