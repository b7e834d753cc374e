#include "commands.hpp"
#include "log_filter.hpp"
#include "stored_coats.hpp"
#include "whirler/notebook/coat_text.hpp"
#include "write_file.hpp"

#include <filesystem>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kExamples =
    "Examples:\n"
    "  whirler export 12                    writes the folder coat-12\n"
    "  whirler export 12 --output gauge-top another name for the folder\n"
    "coat.json has the plan, the files as they were, and the events; pulses.csv a row a pulse;\n"
    "samples.csv the speed. `whirler import` takes them back.";

struct ExportWords {
  std::int64_t number = 0;
  std::string folder;
};

/// The folder, made; it must be new or empty, so that no earlier export is mixed with this one.
Outcome make_folder(const std::string& folder) {
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error)
    return input_fault("the folder cannot be made (" + error.message() + ")", folder,
                       "name another one with --output");
  if (!std::filesystem::is_empty(folder, error) || error)
    return input_fault("the folder is not empty", folder, "name another one with --output");
  return Done{};
}

int export_coat(const Context& context, const ExportWords& words) {
  const auto coat = stored_coat(context, words.number);
  if (!coat)
    return context.fail(coat.fault());
  const std::string folder =
      words.folder.empty() ? "coat-" + std::to_string(words.number) : words.folder;
  if (const Outcome made = make_folder(folder); !made)
    return context.fail(made.fault());
  const notebook::CoatTexts texts = notebook::texts_of(*coat);
  Json files = Json::array();
  for (const auto& [name, text] : {std::pair{notebook::kCoatFile, &texts.coat},
                                   std::pair{notebook::kPulsesFile, &texts.pulses},
                                   std::pair{notebook::kSamplesFile, &texts.samples}}) {
    const std::string path = folder + "/" + name;
    if (const Outcome written = write_text_file(path, *text); !written)
      return context.fail(written.fault());
    context.say(path);
    files.push_back(path);
  }
  context.answer({{"coat", coat->number}, {"folder", folder}, {"files", std::move(files)}});
  return kDone;
}

} // namespace

void add_export(CLI::App& program, Context& context) {
  auto words = std::make_shared<ExportWords>();
  CLI::App* command =
      program.add_subcommand("export", "Writes a coat as open files")->footer(kExamples);
  command->add_option("COAT", words->number, "Its number in the log")
      ->required()
      ->check(from_one());
  command->add_option("--output", words->folder, "The folder to write (coat-N)");
  command->callback([&context, words] {
    context.work = [&context, words] { return export_coat(context, *words); };
  });
}

} // namespace whirler::cli
