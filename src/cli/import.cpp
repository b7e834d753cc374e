#include "commands.hpp"
#include "load.hpp"
#include "run_job.hpp"
#include "whirler/notebook/coat_text.hpp"

#include <filesystem>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kImportExamples =
    "Examples:\n"
    "  whirler import coat-12/coat.json     pulses.csv and samples.csv lie beside it\n"
    "  whirler import coat-12               the folder does as well\n"
    "A coat that is in the notebook already is not taken twice. One that is there in part, since\n"
    "it was exported before its end or has notes since, is completed. What was altered since it "
    "was\n"
    "exported is seen by the checksums in coat.json (sha256sum pulses.csv prints the same), and\n"
    "refused.";

struct ImportWords {
  std::string path;
  bool unchecked = false;
};

std::string folder_of(const std::string& path) {
  std::error_code error;
  if (std::filesystem::is_directory(path, error))
    return path;
  const auto folder = std::filesystem::path(path).parent_path().string();
  return folder.empty() ? "." : folder;
}

Result<notebook::CoatTexts> read_texts(const std::string& path, const std::string& folder) {
  std::error_code error;
  const bool is_folder = std::filesystem::is_directory(path, error);
  auto coat = read_text_file(is_folder ? folder + "/" + notebook::kCoatFile : path);
  auto pulses = read_text_file(folder + "/" + notebook::kPulsesFile);
  auto samples = read_text_file(folder + "/" + notebook::kSamplesFile);
  if (!coat)
    return coat.fault();
  for (const auto* table : {&pulses, &samples})
    if (!*table)
      return input_fault(table->fault().what, table->fault().where,
                         "give the coat.json of an export with its two tables beside it, or their "
                         "folder");
  return notebook::CoatTexts{std::move(*coat), std::move(*pulses), std::move(*samples)};
}

int import_coat(const Context& context, const ImportWords& words) {
  const std::string& path = words.path;
  const std::string folder = folder_of(path);
  const auto texts = read_texts(path, folder);
  if (!texts)
    return context.fail(texts.fault());
  const auto coat = notebook::coat_of(*texts, folder,
                                      words.unchecked ? notebook::BadChecksum::take
                                                      : notebook::BadChecksum::refuse);
  if (!coat)
    return fail(context, coat.faults());
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  const auto newest = notebook->newest();
  const auto number = notebook->add(*coat);
  if (!number)
    return context.fail(number.fault());
  const bool completed = newest && *number <= *newest; // what is new has a number of its own
  context.say("coat " + std::to_string(*number) +
              (completed ? ", which was here in part, is complete now" : ""));
  context.answer({{"coat", *number}, {"completed", completed}});
  return kDone;
}

} // namespace

void add_import(CLI::App& program, Context& context) {
  auto words = std::make_shared<ImportWords>();
  CLI::App* command = program.add_subcommand("import", "Takes an exported coat into the notebook")
                          ->footer(kImportExamples);
  command->add_option("FILE", words->path, "The coat.json of an export, or its folder")->required();
  command->add_flag("--unchecked", words->unchecked,
                    "Although it was altered, or is of a program that wrote no checksums");
  command->callback([&context, words] {
    context.work = [&context, words] { return import_coat(context, *words); };
  });
}

} // namespace whirler::cli
