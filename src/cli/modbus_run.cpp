#include "modbus_run.hpp"

#include "prompter.hpp"
#include "whirler/files/fault_list.hpp"
#include "whirler/files/json_tree.hpp"
#include "whirler/modbus/cycle_time.hpp"
#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

constexpr const char* kProofKind = "dead_man_proof";

/// FNV-1a, 64 bits: tells a changed file, and nothing more is asked of it.
std::uint64_t mixed(std::uint64_t hash, const std::string& text) {
  for (const char letter : text) {
    hash ^= static_cast<unsigned char>(letter);
    hash *= 0x100000001B3ULL;
  }
  return hash;
}

std::string proof_key(const std::string& machine, const std::string& drive) {
  const std::uint64_t hash = mixed(mixed(0xCBF29CE484222325ULL, machine) + drive.size(), drive);
  std::string text;
  for (int shift = 60; shift >= 0; shift -= 4)
    text += "0123456789abcdef"[(hash >> static_cast<unsigned>(shift)) & 0xFU];
  return text;
}

bool holds_key(const notebook::Note& note, const std::string& key) {
  const auto document = Json::parse(note.document, nullptr, false);
  return document.is_object() && document.value("key", "") == key;
}

std::optional<Fault> nothing_stands_in(const ModbusRun& run, const machine::Machine& machine,
                                       bool without_timeout) {
  const Fault refused{
      FaultKind::input,
      "this drive has no time-out of its own (\"dead_man\"): if this computer dies, it "
      "keeps turning",
      run.path,
      "switch its communication time-out on and name it as \"dead_man\"; or wire "
      "lid and emergency stop to its stop input and give --no-drive-timeout"};
  if (!without_timeout)
    return refused;
  if (machine.lid != machine::Lid::wired_to_drive)
    return input_fault("--no-drive-timeout on a machine whose lid is not \"wired_to_drive\"",
                       run.path, "wire lid and emergency stop to the drive's own stop input first");
  if (!person_types_yes(
          "This drive keeps turning if this computer dies. Lid AND emergency stop are "
          "wired to its own stop input, and both were tried: type yes: "))
    return Fault{FaultKind::input, "--no-drive-timeout needs a typed yes", run.path,
                 "run it at a terminal, and type yes only if it is so"};
  return std::nullopt;
}

/// In the machine's file, at `key`.
std::vector<files::FileFault> wrong_at(const Loaded<machine::Machine>& machine,
                                       const std::string& key, const std::string& found,
                                       const std::string& allowed, const std::string& next) {
  files::FaultList faults(machine.text, machine.path);
  const auto tree = files::parse_json(machine.text, faults);
  const auto* at = tree ? files::descend(*tree, key) : nullptr;
  faults.add(at != nullptr ? at->from : 0,
             {.pointer = "/" + key, .found = found, .allowed = allowed, .next = next});
  return std::move(faults).take();
}

/// At the machine's limit.
std::vector<files::FileFault> over_the_drive(const Loaded<machine::Machine>& machine,
                                             const modbus::Description& drive) {
  const Speed most = modbus::highest_speed(drive);
  const Speed asked = machine.value.limits.speed;
  constexpr double kRounding = 1.0 + 1e-9;
  if (asked <= most * kRounding)
    return {};
  return wrong_at(machine, "limits/speed_rpm", number_text(asked.rpm(), 6),
                  "at most " + number_text(most.rpm(), 6) + " rpm, the limit of its drive (" +
                      drive.name + ")",
                  "lower it, or correct the drive's file");
}

/// At the machine's baud rate.
std::vector<files::FileFault> slow_line(const Loaded<machine::Machine>& machine,
                                        const modbus::Description& drive,
                                        std::vector<std::string>& cautions) {
  const LineFormat line = machine.value.drive.line();
  const auto found_long = modbus::long_cycle(drive, line, Duration{});
  if (!found_long)
    return {};
  if (!found_long->too_long) {
    cautions.push_back("on this line " + found_long->what + ": " + found_long->next);
    return {};
  }
  return wrong_at(machine, "drive/baud", std::to_string(line.baud), found_long->what,
                  found_long->next);
}

} // namespace

std::optional<ModbusRun> load_modbus(FileLoader& files, const Loaded<machine::Machine>& machine) {
  const auto& line = machine.value.drive;
  const std::string path = path_from(machine.path, line.description);
  auto loaded = files.load<modbus::Description>(path);
  if (!loaded)
    return std::nullopt;
  ModbusRun run;
  auto& setup = run.place.setup;
  setup.unit = line.unit > 0 ? line.unit : loaded->value.unit;
  setup.description = std::move(loaded->value);
  setup.counterclockwise = machine.value.direction == machine::Direction::counterclockwise;
  setup.port_name = line.port;
  run.place.line = line.line();
  run.place.tach_port = line.tach_port;
  run.place.tach_baud = line.tach_baud;
  run.path = path;
  run.key = proof_key(machine.text, loaded->text);
  run.text = std::move(loaded->text);
  return run;
}

std::vector<files::FileFault> against_the_drive(const Loaded<machine::Machine>& machine,
                                                const modbus::Description& drive,
                                                std::vector<std::string>& cautions) {
  auto found = over_the_drive(machine, drive);
  const auto slow = slow_line(machine, drive, cautions);
  found.insert(found.end(), slow.begin(), slow.end());
  return found;
}

std::optional<Fault> not_safe(notebook::Notebook& notebook, const ModbusRun& run,
                              const machine::Machine& machine, bool without_timeout) {
  if (!run.place.setup.description.dead_man)
    return nothing_stands_in(run, machine, without_timeout);
  if (without_timeout)
    return Fault{FaultKind::command_line, "--no-drive-timeout on a drive that has a time-out", "",
                 "leave it out"};
  const auto proofs = notebook.notes({kProofKind, "", "", std::nullopt});
  if (!proofs)
    return proofs.fault();
  for (const auto& proof : *proofs)
    if (holds_key(proof, run.key))
      return std::nullopt;
  return input_fault("nobody has seen that this drive stops when the line is silent, or its file "
                     "or the machine's has changed since",
                     run.path, "take the plate off and give: whirler prove MACHINE");
}

Json to_json(const drive::DeadManProof& proof) {
  return {{"speed_rpm", rounded(proof.before.rpm())},
          {"stop_to_rest_s", rounded(proof.stop_to_rest.s())},
          {"silence_s", rounded(proof.silence.s())},
          {"after_rpm", rounded(proof.after.rpm())},
          {"to_rest_s", rounded(proof.to_rest.s())}};
}

Outcome keep_proof(notebook::Notebook& notebook, const ModbusRun& run,
                   const drive::DeadManProof& proof, notebook::Instant now) {
  Json document = to_json(proof);
  document["key"] = run.key;
  document["drive"] = run.place.setup.description.name;
  notebook::Note note;
  note.at = now;
  note.kind = kProofKind;
  note.document = document.dump();
  return notebook.add_note(note);
}

} // namespace whirler::cli
