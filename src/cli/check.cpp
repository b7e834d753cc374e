#include "commands.hpp"
#include "load.hpp"
#include "modbus_run.hpp"
#include "timeline_drawing.hpp"
#include "whirler/units/text.hpp"

#include <cmath>
#include <filesystem>
#include <memory>
#include <set>
#include <utility>

namespace whirler::cli {
namespace {

constexpr const char* kCheckExamples =
    "Examples:\n"
    "  whirler check thin.json bench.json     every mistake of both files, with line and column\n"
    "  whirler check --json profiles/*.json   the same as one JSON document\n"
    "What a board or a machine names is looked at, too. Nothing moves. Exit status 3 when any file "
    "has a mistake or cannot be read.";

std::string name_of(const files::AnyFile& any) {
  struct Name {
    std::string operator()(const files::ResistFile& file) const { return file.resist.name; }
    std::string operator()(const profile::Profile& file) const { return file.name; }
    std::string operator()(const blank::Blank& file) const { return file.name; }
    std::string operator()(const machine::Machine& file) const { return file.name; }
    std::string operator()(const files::CalibrationFile& file) const { return file.resist; }
    std::string operator()(const modbus::Description& file) const { return file.name; }
    std::string operator()(const files::Board& file) const { return file.name; }
  };
  return std::visit(Name{}, any);
}

void show_profile(const Context& context, const profile::Profile& profile, Json& answer) {
  const auto laid = profile::timeline(profile);
  if (!laid)
    return; // the reader lets no such profile through
  for (const std::string& line : drawing(*laid))
    context.say("  " + line);
  for (const std::string& line : steps_in_words(profile, *laid))
    context.say("  " + line);
  answer["total_s"] = rounded(laid->total().s());
  answer["top_speed_rpm"] = rounded(laid->top_speed().rpm());
  answer["has_jump"] = laid->has_jump();
}

/// What is allowed, and needs care.
void show_cautions(const Context& context, const std::vector<std::string>& cautions, Json& answer) {
  for (const std::string& caution : cautions)
    context.say("  caution: " + caution);
  if (!cautions.empty())
    answer["cautions"] = cautions;
}

Json show_good(const Context& context, const Loaded<files::AnyFile>& file,
               const std::vector<std::string>& cautions) {
  const std::string kind{files::kind_word(file.value)};
  const std::string name = name_of(file.value);
  context.say(file.path + ": " + kind + (name.empty() ? "" : " \"" + name + "\"") + ": good");
  Json answer{{"file", file.path}, {"kind", kind}, {"name", name}};
  if (const auto* profile = std::get_if<profile::Profile>(&file.value))
    show_profile(context, *profile, answer);
  show_cautions(context, cautions, answer);
  return answer;
}

/// Files that another one names, each looked at once, and not where it is asked about itself.
class Named {
 public:
  Named(const Context& context, FileLoader& files, const std::vector<std::string>& asked)
      : context_(context), files_(files) {
    for (const std::string& path : asked)
      seen_.insert(std::filesystem::path(path).lexically_normal().string());
  }

  void look_at(const Loaded<files::AnyFile>& file) {
    if (const auto* board = std::get_if<files::Board>(&file.value))
      look_at(*board, file.path);
    if (const auto* machine = std::get_if<machine::Machine>(&file.value))
      look_at(Loaded<machine::Machine>{*machine, file.text, file.path});
    if (const auto* drive = std::get_if<modbus::Description>(&file.value))
      look_at(*drive);
  }
  /// Of the file that was looked at last.
  [[nodiscard]] std::vector<std::string> take_cautions() { return std::exchange(cautions_, {}); }
  /// Between two files that are each good.
  [[nodiscard]] const std::vector<files::FileFault>& faults() const { return faults_; }

 private:
  void look_at(const files::Board& board, const std::string& path) {
    load<files::ResistFile>(path, board.resist);
    load<blank::Blank>(path, board.blank);
    load<profile::Profile>(path, board.profile);
    if (const auto machine = load<machine::Machine>(path, board.machine))
      look_at(*machine);
  }

  void look_at(const Loaded<machine::Machine>& machine) {
    look_at_least_speed(machine.value);
    const std::string path = path_from(machine.path, machine.value.drive.description);
    if (path.empty())
      return;
    const bool seen = !seen_.insert(path).second;
    FileLoader again(context_); // the mistakes of one that was seen have been said
    const auto drive = (seen ? again : files_).load<modbus::Description>(path);
    if (!drive)
      return;
    look_at(drive->value);
    const auto wrong = against_the_drive(machine, drive->value, cautions_);
    faults_.insert(faults_.end(), wrong.begin(), wrong.end());
  }

  /// Counted on the simulated driver with 1 to 12 marks a turn: by 120 marks a minute it holds a
  /// speed within 15 %, by 60 it may lose them.
  void look_at_least_speed(const machine::Machine& machine) {
    constexpr double kMarksAMinute = 120.0;
    const int marks = machine.tach.marks_per_turn;
    const bool holds_itself = machine.drive.type == machine::DriveType::modbus;
    if (holds_itself || marks < 1 || marks * machine.limits.speed_min.rpm() >= kMarksAMinute)
      return;
    cautions_.push_back(
        "limits.speed_min_rpm " + number_text(machine.limits.speed_min.rpm()) + " with " +
        std::to_string(marks) + (marks == 1 ? " mark" : " marks") + " a turn: a mark every " +
        number_text(60.0 / (marks * machine.limits.speed_min.rpm()), 2) +
        " s is too seldom to hold a speed by, and a run may end as tach_lost; give at least " +
        number_text(std::ceil(kMarksAMinute / marks)) + " rpm, or more marks");
  }

  void look_at(const modbus::Description& drive) {
    if (!drive.dead_man)
      cautions_.push_back("the drive \"" + drive.name +
                          "\" has no time-out of its own (\"dead_man\"): a run is refused, unless "
                          "lid and emergency stop are wired to its stop input and "
                          "--no-drive-timeout is given");
  }

  template <class T>
  std::optional<Loaded<T>> load(const std::string& from, const std::string& named) {
    const std::string path = path_from(from, named);
    if (path.empty() || !seen_.insert(path).second)
      return std::nullopt;
    return files_.load<T>(path);
  }

  const Context& context_;
  FileLoader& files_;
  std::set<std::string> seen_;
  std::vector<std::string> cautions_;
  std::vector<files::FileFault> faults_;
};

bool is_table(const std::string& path) { return path.ends_with(".csv"); }

/// A table of pulses. The length of a tick is not in the file, so any will do here.
std::optional<Json> show_table(const Context& context, FileLoader& files, const std::string& path) {
  const auto pulses = files.load_pulses(path, {microseconds(1), std::nullopt});
  if (!pulses)
    return std::nullopt;
  const std::size_t count = pulses->value.size();
  context.say(path + ": pulses, " + std::to_string(count) + " rows: good");
  return Json{{"file", path}, {"kind", "pulses"}, {"rows", count}};
}

std::optional<Json> show_file(const Context& context, FileLoader& files, Named& named,
                              const std::string& path) {
  if (is_table(path))
    return show_table(context, files, path);
  const auto file = files.load<files::AnyFile>(path);
  if (!file)
    return std::nullopt;
  const std::size_t before = named.faults().size();
  named.look_at(*file);
  if (named.faults().size() > before)
    return std::nullopt;
  return show_good(context, *file, named.take_cautions());
}

int check_files(const Context& context, const std::vector<std::string>& paths) {
  FileLoader files(context);
  Named named(context, files, paths);
  Json good = Json::array();
  Json faults = Json::array();
  std::size_t said = 0, said_of_two = 0;
  const auto say_new = [&](const std::vector<files::FileFault>& all, std::size_t& from) {
    for (; from < all.size(); ++from) {
      context.say(files::to_text(all[from]));
      faults.push_back(to_json(all[from]));
    }
  };
  for (const std::string& path : paths) {
    if (auto file = show_file(context, files, named, path))
      good.push_back(std::move(*file));
    say_new(files.faults(), said);
    say_new(named.faults(), said_of_two);
  }
  const bool ok = faults.empty();
  if (!ok)
    context.say(std::to_string(faults.size()) + " to correct");
  context.answer({{"files", std::move(good)}, {"faults", std::move(faults)}});
  return ok ? kDone : kInput;
}

} // namespace

void add_check(CLI::App& program, Context& context) {
  auto paths = std::make_shared<std::vector<std::string>>();
  CLI::App* command = program.add_subcommand("check", "Validates files without moving anything")
                          ->footer(kCheckExamples);
  command
      ->add_option("FILE", *paths,
                   "Profiles, resists, blanks, machines, drives, boards; pulses as .csv")
      ->required();
  command->callback([&context, paths] {
    context.work = [&context, paths] { return check_files(context, *paths); };
  });
}

} // namespace whirler::cli
