#include "run_job.hpp"
#include "one_line.hpp"

#include "coat_reading.hpp"
#include "prompter.hpp"
#include "run_view.hpp"
#include "whirler/drive/simulated_drive.hpp"
#include "whirler/session/notebook_record.hpp"

#include <chrono>
#include <csignal>
#include <iostream>
#include <memory>
#include <random>

namespace whirler::cli {
namespace {

/// Said and kept when somebody has typed the yes, and not before.
constexpr const char* kNoTimeout =
    "Run without a time-out in the drive (--no-drive-timeout): somebody typed yes, lid and "
    "emergency stop are wired to its stop input.";

/// Tells one greeting, and one start, from those before it.
std::uint32_t fresh_number() { return std::random_device{}(); }

/// What the notebook keeps of a run from before its start.
notebook::CoatStart coat_start(const LoadedRun& run, const RunWords& words,
                               const drive::Identity& identity) {
  notebook::CoatStart start;
  start.started = wall_clock();
  start.board = words.board;
  start.side = words.side;
  start.profile = run.order.plan.profile.name;
  start.machine = run.order.plan.machine.name;
  start.resist = run.resist_name;
  start.blank = run.blank_name;
  start.simulated = words.simulate;
  start.driver = identity.facts.name + " " + identity.version;
  start.tick = identity.tick;
  start.marks_per_turn = identity.facts.marks_per_turn;
  for (const auto& text : run.texts)
    start.files.push_back({text.kind, text.path, text.text});
  start.cautions = run.cautions;
  if (words.no_drive_timeout)
    start.cautions.emplace_back(kNoTimeout);
  start.cautions.insert(start.cautions.end(), identity.cautions.begin(), identity.cautions.end());
  return start;
}

/// Judges the run by its whole record, read back from where it was written.
Vibration judged(const session::Summary& summary, notebook::Notebook& notebook, std::int64_t coat) {
  const auto stored = notebook.coat(coat);
  if (!stored)
    return vibration_of(summary, nullptr, "");
  const CoatReading reading = read_coat_jitter(*stored);
  return vibration_of(summary, &reading, "coat " + std::to_string(coat));
}

/// What the end of the record says.
session::Closing closing(const session::Summary& summary, const Vibration& vibration) {
  DoneRun done;
  done.summary = summary;
  done.vibration = vibration;
  return {std::string(tach::word(vibration.judgement.verdict)), run_json(done).dump()};
}

/// The film of the record depends on the room, and no file says it.
std::optional<NoteOfStart> room_note(const RoomOptions& said) {
  if (!said.temperature && !said.humidity)
    return std::nullopt;
  Json room = Json::object();
  if (said.temperature)
    room["temperature_C"] = rounded(said.temperature->celsius());
  if (said.humidity)
    room["humidity"] = rounded(*said.humidity);
  return NoteOfStart{kRoomNote, one_line(room)};
}

/// Before anything turns, so that a run that dies has them too.
Outcome keep_notes(const LoadedRun& run, const RunWords& words, std::int64_t coat,
                   notebook::Notebook& notebook) {
  std::vector<NoteOfStart> notes = words.notes;
  if (auto room = room_note(words.room))
    notes.push_back(std::move(*room));
  for (const NoteOfStart& said : notes) {
    const notebook::Note note{wall_clock(), said.kind,       words.board,
                              coat,         run.resist_name, said.document};
    if (const auto kept = notebook.add_note(note); !kept)
      return kept;
  }
  return Done{};
}

session::OpenRecord open_record(const LoadedRun& run, const RunWords& words,
                                notebook::Notebook& notebook, Vibration& vibration) {
  return [&](const drive::Identity& identity) -> Result<std::unique_ptr<session::Record>> {
    auto writer = notebook.begin_coat(coat_start(run, words, identity));
    if (!writer)
      return writer.fault();
    if (const auto kept = keep_notes(run, words, writer->number(), notebook); !kept)
      return kept.fault();
    const auto close = [&, coat = writer->number()](const session::Summary& summary) {
      vibration = judged(summary, notebook, coat);
      return closing(summary, vibration);
    };
    return std::unique_ptr<session::Record>(
        std::make_unique<session::NotebookRecord>(std::move(*writer), close));
  };
}

DoneRun on_port(const Context& context, const LoadedRun& run, const RunWords& words,
                notebook::Notebook& notebook, const std::string& path) {
  RunView view(context);
  Vibration vibration;
  auto result =
      session::execute_on_port(path, run.order.plan.machine.drive.baud, fresh_number(), run.order,
                               open_record(run, words, notebook, vibration), view.observer());
  view.close();
  return {std::move(result), std::move(vibration)};
}

DoneRun on_modbus(const Context& context, const LoadedRun& run, const RunWords& words,
                  notebook::Notebook& notebook) {
  RunView view(context);
  Vibration vibration;
  auto result =
      session::execute_on_modbus(run.modbus->place, fresh_number(), run.order,
                                 open_record(run, words, notebook, vibration), view.observer());
  view.close();
  return {std::move(result), std::move(vibration)};
}

Result<drive::SimulationOptions> simulation(const LoadedRun& run, const RunWords& words,
                                            const plant::Unknowns& unknowns) {
  auto setup = plant::make_setup(run.order.plan.machine, run.blank, unknowns);
  if (!setup)
    return setup.fault();
  for (const auto& text : words.faults) {
    const auto fault = plant::parse_fault(text);
    if (!fault)
      return fault.fault();
    setup->faults.push_back(*fault);
  }
  drive::SimulationOptions options;
  options.setup = *setup;
  options.speed_up = words.speed_up;
  return options;
}

Result<DoneRun> turn(const Context& context, const LoadedRun& run, const RunWords& words,
                     notebook::Notebook& notebook, const plant::Unknowns& unknowns) {
  if (!words.simulate && run.modbus) {
    if (auto unsafe =
            not_safe(notebook, *run.modbus, run.order.plan.machine, words.no_drive_timeout))
      return *unsafe;
    if (words.no_drive_timeout)
      context.say(std::string("caution: ") + kNoTimeout);
    return on_modbus(context, run, words, notebook);
  }
  if (!words.simulate)
    return on_port(context, run, words, notebook, run.order.plan.machine.drive.port);
  auto options = simulation(run, words, unknowns);
  if (!options)
    return options.fault();
  auto spinner = drive::SimulatedDrive::start(std::move(*options));
  if (!spinner)
    return spinner.fault();
  return on_port(context, run, words, notebook, spinner->port());
}

} // namespace

notebook::Instant wall_clock() {
  using namespace std::chrono;
  return {duration_cast<std::chrono::milliseconds>(system_clock::now().time_since_epoch()).count()};
}

Result<notebook::Notebook> open_notebook(const Context& context) {
  if (!context.notebook.empty())
    return notebook::Notebook::open(context.notebook);
  return notebook::Notebook::open_default();
}

Outcome settle(RunWords& words, const LoadedRun& run) {
  const auto type = run.order.plan.machine.drive.type;
  if (words.patience <= seconds(0))
    return Fault{FaultKind::command_line, "--patience is not above 0", "", "give it as 5s"};
  words.simulate = words.simulate || type == machine::DriveType::simulated;
  if (!words.simulate && (words.speed_up != 1.0 || !words.faults.empty()))
    return Fault{FaultKind::command_line, "--speed-up and --fault are for a simulation", "",
                 "add --simulate, or leave them out"};
  if (words.no_drive_timeout && !run.modbus)
    return Fault{FaultKind::command_line, "--no-drive-timeout is for Modbus drives", "",
                 "leave it out"};
  return Done{};
}

Outcome check_faults(const std::vector<std::string>& faults) {
  for (const std::string& text : faults)
    if (const auto fault = plant::parse_fault(text); !fault)
      return Fault{FaultKind::command_line, fault.fault().what, "--fault " + text,
                   fault.fault().next};
  return Done{};
}

void ask_for_lid(LoadedRun& run) {
  auto& plan = run.order.plan;
  if (plan.machine.lid == machine::Lid::none && !plan.lid_confirmed)
    plan.lid_confirmed = person_types_yes("No lid switch. Stand clear, lid shut, then type yes: ");
}

Result<DoneRun> perform(const Context& context, const LoadedRun& run, const RunWords& words,
                        notebook::Notebook& notebook, const plant::Unknowns& unknowns) {
  // A reader that goes away must not end this program while the motor turns.
  std::signal(SIGPIPE, SIG_IGN);
  return turn(context, run, words, notebook, unknowns);
}

void tell(const Context& context, const DoneRun& result) {
  for (const auto& fault : result.faults)
    std::cerr << "whirler: " << to_text(fault) << '\n';
  for (const auto& line : run_lines(result))
    context.say(line);
}

} // namespace whirler::cli
