// whirler prove: sees, once, that a Modbus drive stops when it is told to, and by itself when
// nobody speaks to it.
//
// Once, and not before each run: the proof turns the hub for some seconds, and a plate with liquid
// resist on it would be coated by it. It is kept in the notebook and holds until the machine's file
// or the drive's changes; each run writes the drive's time-out anew and reads it back.
#include "commands.hpp"

#include "modbus_run.hpp"
#include "prompter.hpp"
#include "run_job.hpp"
#include "whirler/drive/prompt_thread.hpp"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <memory>
#include <random>

namespace whirler::cli {
namespace {

constexpr const char* kProveExamples =
    "Examples:\n"
    "  whirler prove my_servo.json                 turns the bare hub slowly, stops it; turns it "
    "again,\n"
    "                                              goes silent, and looks\n"
    "  whirler prove my_servo.json --lid-closed    the same without the typed yes\n\n"
    "Take the plate off first. Ctrl-C commands the motor off. A run on a Modbus drive needs this\n"
    "once, and again after each change of the machine's file or of the drive's.\n"
    "The second time the hub turns by itself until the drive's own time-out stops it: hands off, "
    "lid shut, the\n"
    "emergency stop (the hardware switch) within reach. It is to turn at 200 rpm, about three\n"
    "turns a second, and is held to that within 10 % for a second by the drive's own reading.\n"
    "Where your eyes say otherwise, \"scale_rpm\" or \"word_order\" is wrong in the drive's file\n"
    "for the target and the speed read back alike, which nothing here can see. Answers that are\n"
    "too slow for a run are refused before anything turns, with what they took.";

constexpr Speed kSlow = rpm(200); // slow for a bare hub, and far from standstill

struct ProveWords {
  std::string machine;
  bool lid_closed = false;
  Duration patience = seconds(5);
};

volatile std::sig_atomic_t given_up = 0;
void give_up_at_signal(int) { given_up = 1; }

/// Hears nothing: the proof asks for itself.
class Deaf final : public drive::Listener {
 public:
  void on_report(const drive::Report&) override {}
  void on_pulses(const drive::PulseBatch&) override {}
  void on_lost(const Fault&) override {}
};

/// `cautions`: what the drive's greeting has shown.
Result<drive::DeadManProof> prove(const ModbusRun& run, const machine::Machine& machine,
                                  Duration patience, std::vector<std::string>& cautions) {
  const auto asked_to_end = [] { return given_up != 0; };
  for (const int signal : {SIGINT, SIGTERM, SIGHUP})
    std::signal(signal, give_up_at_signal);
  const drive::PromptThread prompt;
  boost::asio::io_context io;
  Deaf deaf;
  const auto drive = drive::open_modbus(io, run.place, std::random_device{}());
  if (!drive)
    return drive.fault();
  const auto identity = (*drive)->greet(deaf, patience, asked_to_end);
  if (!identity)
    return identity.fault();
  cautions = identity->cautions;
  const auto& facts = identity->facts;
  const Speed fastest = std::min(machine.limits.speed, facts.speed_max);
  const Speed speed =
      std::min(fastest, std::max({kSlow, machine.limits.speed_min, facts.speed_min}));
  const Ramp slope = std::min({machine.limits.ramp, facts.slope_max, rpm_per_s(500)});
  auto proof = (*drive)->prove_dead_man(speed, slope, asked_to_end);
  (*drive)->stop_listening();
  return proof;
}

notebook::Instant wall_clock() {
  using namespace std::chrono;
  return {duration_cast<std::chrono::milliseconds>(system_clock::now().time_since_epoch()).count()};
}

int tell_proof(const Context& context, const drive::DeadManProof& proof,
               const std::vector<std::string>& cautions) {
  context.say("PROVEN. Told to stop, it was at rest after " +
              number_text(proof.stop_to_rest.s(), 3) + " s. " + number_text(proof.before.rpm(), 4) +
              " rpm, then " + number_text(proof.silence.s(), 3) +
              " s without a word: " + number_text(proof.after.rpm(), 4) +
              " rpm, and at rest after " + number_text(proof.to_rest.s(), 3) + " s.");
  for (const std::string& caution : cautions)
    context.say("caution: " + caution);
  Json answer = to_json(proof);
  answer["proven"] = true;
  answer["cautions"] = cautions;
  context.answer(answer);
  return kDone;
}

int run_prove(const Context& context, const ProveWords& words) {
  FileLoader files(context);
  const auto machine = files.load<machine::Machine>(words.machine);
  if (machine && machine->value.drive.type != machine::DriveType::modbus)
    return context.fail(input_fault("this machine's drive is no Modbus drive", words.machine,
                                    "a driver on the project's own link needs no proof"));
  const auto run = machine ? load_modbus(files, *machine) : std::nullopt;
  if (!files.ok())
    return files.fail();
  std::vector<std::string> cautions;
  if (const auto wrong = against_the_drive(*machine, run->place.setup.description, cautions);
      !wrong.empty())
    return fail(context, wrong);
  if (!run->place.setup.description.dead_man)
    return context.fail(input_fault(
        "the drive's file names no \"dead_man\": there is nothing to prove", run->path,
        "switch the drive's communication time-out on and name it as \"dead_man\"; without one, "
        "whirler run asks for --no-drive-timeout and says what that needs"));
  if (!words.lid_closed && !person_types_yes("The bare hub will turn. Plate off, lid shut, hands "
                                             "off, emergency stop in reach: type yes: "))
    return context.fail(input_fault("nobody has said that the hub may turn", words.machine,
                                    "type yes at a terminal, or give --lid-closed"));
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  const auto proof = prove(*run, machine->value, words.patience, cautions);
  if (!proof)
    return context.fail(proof.fault());
  if (const auto kept = keep_proof(*notebook, *run, *proof, wall_clock()); !kept)
    return context.fail(kept.fault());
  return tell_proof(context, *proof, cautions);
}

} // namespace

void add_prove(CLI::App& program, Context& context) {
  auto words = std::make_shared<ProveWords>();
  auto* command =
      program
          .add_subcommand(
              "prove", "Sees that a Modbus drive stops when told to, and when nobody speaks to it")
          ->footer(kProveExamples);
  command->add_option("machine", words->machine, "The machine's file")->required();
  command->add_flag("--lid-closed", words->lid_closed,
                    "You have seen that the plate is off and the lid is shut");
  add_quantity<Duration>(*command, "--patience", words->patience,
                         "How long a silent drive is waited for (5s)");
  command->callback([words, &context] {
    context.work = [words, &context] { return run_prove(context, *words); };
  });
}

} // namespace whirler::cli
