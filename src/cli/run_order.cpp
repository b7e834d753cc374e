#include "run_order.hpp"

#include "farthest_out.hpp"

#include "bottle.hpp"
#include "watch_cautions.hpp"
#include "whirler/blank/air.hpp"
#include "whirler/film/vapour.hpp"
#include "whirler/profile/timeline.hpp"

#include <utility>

namespace whirler::cli {
namespace {

tach::FigureLimits figure_limits(const machine::JitterLimits& limits) {
  return {limits.watch_velocity, limits.stop_velocity, limits.watch_angle,
          limits.stop_angle,     limits.watch_force,   limits.stop_force};
}

run::Load motor_load(const machine::Machine& machine,
                     const std::optional<blank::Properties>& plate) {
  run::Load load;
  load.inertia = machine.rotor.inertia;
  if (plate) {
    load.inertia += plate->inertia;
    load.drag = [plate = *plate](Speed speed) { return blank::air_drag(plate, speed); };
  }
  return load;
}

void add_machine_cautions(const machine::Machine& machine, std::vector<std::string>& cautions) {
  cautions.emplace_back("Only the hardware switch in the motor's supply is an emergency stop. "
                        "Keys and this program are none.");
  if (machine.lid == machine::Lid::none)
    cautions.emplace_back("No lid switch: nothing stops the motor when somebody reaches in.");
}

/// A liquid that nobody named is taken as flammable.
void add_vapour_cautions(const std::optional<Loaded<files::ResistFile>>& resist,
                         const machine::Machine& machine, Temperature room,
                         std::vector<std::string>& cautions) {
  film::Surroundings around;
  around.temperature = room;
  around.brushed_motor = machine.motor && machine.motor->current == machine::MotorCurrent::brushed;
  std::vector<std::string> words = film::unknown_vapour_cautions(around);
  if (resist)
    if (auto found = film::vapour_cautions(resist->value.resist, around))
      words = std::move(*found);
  cautions.insert(cautions.end(), words.begin(), words.end());
}

void add_plate_cautions(const LoadedRun& run, const blank::Properties& plate,
                        const std::string& farthest, Speed top,
                        std::vector<std::string>& cautions) {
  const auto& machine = run.order.plan.machine;
  if (machine.limits.balance_grade) {
    const Mass rotor = machine.rotor.mass + plate.mass;
    const double found = plate.unbalance_at_most.kg_m() / rotor.kg() * top.rad_per_s() * 1e3;
    if (found > machine.limits.balance_grade->mm_per_s())
      cautions.push_back("By its drawing the plate is off centre: " + number_text(found, 2) +
                         " mm/s at " + number_text(top.rpm(), 4) + " rpm, the machine's grade is " +
                         number_text(machine.limits.balance_grade->mm_per_s(), 2) +
                         " mm/s. whirler blank says what to do.");
  }
  const double edge = plate.corner_radius.m() * top.rad_per_s();
  cautions.push_back("The plate's " + farthest + (farthest == "edge" ? " runs at " : " run at ") +
                     number_text(edge, 2) + " m/s and it stores " +
                     number_text(blank::energy(plate, top).J(), 2) +
                     " J: guard shut, screw tight, face clear.");
}

} // namespace

tach::SpinnerModel spinner_model(const machine::Machine& machine,
                                 const std::optional<blank::Properties>& plate) {
  tach::SpinnerModel model;
  model.marks_per_turn = machine.tach.marks_per_turn;
  model.sensor_on = machine.tach.sensor_on == machine::SensorOn::sprung ? tach::SensorOn::sprung
                                                                        : tach::SensorOn::ground;
  model.mark_radius = machine.tach.mark_radius;
  model.rotor_mass = machine.rotor.mass + (plate ? plate->mass : Mass{});
  model.inertia = machine.rotor.inertia + (plate ? plate->inertia : Inertia{});
  if (machine.mount) {
    model.moving_mass = machine.mount->moving; // a usual plate is in it already
    model.natural = machine.mount->natural;
    model.damping = machine.mount->damping;
  }
  model.limits = figure_limits(machine.jitter);
  return model;
}

namespace {

struct RunFiles {
  std::optional<Loaded<profile::Profile>> profile;
  std::optional<Loaded<machine::Machine>> machine;
  std::optional<Loaded<blank::Blank>> blank;
  std::optional<Loaded<files::ResistFile>> resist;
  std::optional<Loaded<files::CalibrationFile>> calibration; ///< the boards measured so far
};

template <class T>
std::optional<Loaded<T>> load_if_named(FileLoader& files, const std::string& path) {
  return path.empty() ? std::nullopt : files.load<T>(path);
}

template <class T>
void keep_text(std::vector<FileText>& texts, const char* kind,
               const std::optional<Loaded<T>>& file) {
  if (file)
    texts.push_back({kind, file->path, file->text});
}

/// The parts of the order that need the plate's figures, or their absence.
void fill_in(LoadedRun& run, const RunFiles& files, const std::optional<blank::Properties>& plate,
             Temperature room) {
  auto& order = run.order;
  order.plan.load = motor_load(order.plan.machine, plate);
  order.spinner = spinner_model(order.plan.machine, plate);
  add_machine_cautions(order.plan.machine, run.cautions);
  add_vapour_cautions(files.resist, order.plan.machine, room, run.cautions);
  const auto laid_out = profile::timeline(order.plan.profile);
  if (plate && laid_out)
    add_plate_cautions(run, *plate, farthest_out(files.blank->value), laid_out->top_speed(),
                       run.cautions);
  if (laid_out)
    for (std::string& caution : watch_cautions(order.plan.machine, *laid_out))
      run.cautions.push_back(std::move(caution));
  keep_text(run.texts, "profile", files.profile);
  keep_text(run.texts, "machine", files.machine);
  keep_text(run.texts, "blank", files.blank);
  keep_text(run.texts, "resist", files.resist);
  keep_text(run.texts, "calibration", files.calibration);
}

} // namespace

std::optional<Result<LoadedRun>> load_run(FileLoader& loader, const RunWords& words) {
  const RunFiles files{words.profile_text.empty()
                           ? loader.load<profile::Profile>(words.profile)
                           : loader.load_text<profile::Profile>(words.profile_text, words.profile),
                       loader.load<machine::Machine>(words.machine),
                       load_if_named<blank::Blank>(loader, words.blank),
                       load_if_named<files::ResistFile>(loader, words.resist),
                       load_if_named<files::CalibrationFile>(loader, stored_boards(words.resist))};
  LoadedRun run;
  const auto modbus = machine::DriveType::modbus;
  if (files.machine && files.machine->value.drive.type == modbus && !words.simulate)
    run.modbus = load_modbus(loader, *files.machine);
  if (!loader.ok())
    return std::nullopt;
  if (run.modbus) {
    std::vector<std::string> measured_again; // the greeting times it, and says it
    const auto wrong =
        against_the_drive(*files.machine, run.modbus->place.setup.description, measured_again);
    if (!wrong.empty())
      return files::to_fault(wrong);
  }
  if (run.modbus)
    run.texts.push_back({"drive", run.modbus->path, run.modbus->text});
  std::optional<blank::Properties> plate;
  if (files.blank) {
    const auto weighed = blank::properties(files.blank->value);
    if (!weighed)
      return weighed.fault();
    plate = *weighed;
    run.blank = files.blank->value;
    run.blank_name = run.blank->name;
  }
  run.order.plan.profile = files.profile->value;
  run.order.plan.machine = files.machine->value;
  run.order.plan.lid_confirmed = words.lid_closed;
  run.order.patience = words.patience;
  run.order.hurry = words.speed_up;
  Temperature room = film::Surroundings{}.temperature;
  if (files.resist) {
    run.resist_name = files.resist->value.resist.name;
    room = files.resist->value.resist.viscosity_at; // as speed and film take it
  }
  if (const Outcome known = film::check_air(air_of(words.room, room, {})); !known)
    return known.fault(); // before the run, which would keep it as what was measured
  fill_in(run, files, plate, words.room.temperature.value_or(room));
  return run;
}

} // namespace whirler::cli
