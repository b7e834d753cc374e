#include "commands.hpp"
#include "log_filter.hpp"
#include "stored_coats.hpp"
#include "whirler/notebook/coat_text.hpp"
#include "write_file.hpp"

#include <filesystem>
#include <memory>
#include <vector>

namespace whirler::cli {
namespace {

namespace fs = std::filesystem;

constexpr const char* kExportExamples =
    "Examples:\n"
    "  whirler export 12                    writes the folder coat-12\n"
    "  whirler export 12 --output gauge-top another name for the folder\n"
    "coat.json has the plan, the files as they were, and the events; pulses.csv a row a pulse;\n"
    "samples.csv the speed. `whirler import` takes them back. A coat that still runs is not\n"
    "exported; one that broke off is, up to its last second.";

struct ExportWords {
  std::int64_t number = 0;
  std::string folder;
};

/// The folder of an export. Until it is `kept`, what was put there goes again, and so do the
/// folders that were made for it: a half export would look like a whole one.
class ExportFolder {
 public:
  explicit ExportFolder(std::string path) : path_(std::move(path)) {}
  ~ExportFolder() {
    std::error_code ignored;
    for (const std::string& file : files_)
      fs::remove(file, ignored);
    for (const fs::path& made : made_)
      fs::remove(made, ignored); // another's file in it keeps it
  }
  ExportFolder(const ExportFolder&) = delete;
  ExportFolder& operator=(const ExportFolder&) = delete;

  /// It must be new or empty, so that no earlier export is mixed with this one.
  Outcome make() {
    std::error_code error;
    for (fs::path at = path_; !at.empty() && !fs::exists(at, error); at = at.parent_path())
      if (at.has_filename())
        made_.push_back(at);
    fs::create_directories(path_, error);
    if (error)
      return input_fault("the folder cannot be made (" + error.message() + ")", path_,
                         "name another one with --output");
    if (!fs::is_empty(path_, error) || error)
      return input_fault("the folder is not empty", path_, "name another one with --output");
    return Done{};
  }
  Outcome put(const std::string& name, const std::string& text) {
    Outcome written = write_text_file(path_ + "/" + name, text);
    if (written)
      files_.push_back(path_ + "/" + name);
    return written;
  }
  void keep() {
    files_.clear();
    made_.clear();
  }

 private:
  std::string path_;
  std::vector<std::string> files_;
  std::vector<fs::path> made_; ///< the innermost first
};

/// coat.json comes last: without it, what a death left there is no export.
Outcome write_texts(const std::string& folder, const notebook::CoatTexts& texts) {
  ExportFolder into(folder);
  if (const Outcome made = into.make(); !made)
    return made;
  for (const auto& [name, text] : {std::pair{notebook::kPulsesFile, &texts.pulses},
                                   std::pair{notebook::kSamplesFile, &texts.samples},
                                   std::pair{notebook::kCoatFile, &texts.coat}})
    if (const Outcome written = into.put(name, *text); !written)
      return written;
  into.keep();
  return Done{};
}

/// An end that is still to come could not be added to files that are elsewhere by then.
Outcome refuse_running(const notebook::Coat& coat) {
  if (coat.state != notebook::CoatState::running)
    return Done{};
  return input_fault("coat " + std::to_string(coat.number) +
                         " is still running, and nothing of "
                         "it is final",
                     "",
                     "export it when it has ended: whirler show " + std::to_string(coat.number) +
                         " says whether it has");
}

int export_coat(const Context& context, const ExportWords& words) {
  const auto coat = stored_coat(context, words.number);
  if (!coat)
    return context.fail(coat.fault());
  if (const Outcome ended = refuse_running(*coat); !ended)
    return context.fail(ended.fault());
  const std::string folder =
      words.folder.empty() ? "coat-" + std::to_string(words.number) : words.folder;
  if (const Outcome written = write_texts(folder, notebook::texts_of(*coat)); !written)
    return context.fail(written.fault());
  Json files = Json::array();
  for (const char* name : {notebook::kCoatFile, notebook::kPulsesFile, notebook::kSamplesFile}) {
    context.say(folder + "/" + name);
    files.push_back(folder + "/" + name);
  }
  context.answer({{"coat", coat->number}, {"folder", folder}, {"files", std::move(files)}});
  return kDone;
}

} // namespace

void add_export(CLI::App& program, Context& context) {
  auto words = std::make_shared<ExportWords>();
  CLI::App* command =
      program.add_subcommand("export", "Writes a coat as open files")->footer(kExportExamples);
  command->add_option("COAT", words->number, "Its number in the log")
      ->required()
      ->check(from_one());
  command->add_option("--output", words->folder, "The folder to write (coat-N)");
  command->callback([&context, words] {
    context.work = [&context, words] { return export_coat(context, *words); };
  });
}

} // namespace whirler::cli
