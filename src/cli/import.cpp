#include "commands.hpp"
#include "load.hpp"
#include "stored_coats.hpp"
#include "whirler/notebook/coat_text.hpp"

#include <filesystem>
#include <memory>

namespace whirler::cli {
namespace {

constexpr const char* kExamples =
    "Examples:\n"
    "  whirler import coat-12/coat.json     pulses.csv and samples.csv lie beside it\n"
    "  whirler import coat-12               the folder does as well\n"
    "A coat that is in the notebook already is not taken twice.";

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

int import_coat(const Context& context, const std::string& path) {
  const std::string folder = folder_of(path);
  const auto texts = read_texts(path, folder);
  if (!texts)
    return context.fail(texts.fault());
  const auto coat = notebook::coat_of(*texts, folder);
  if (!coat)
    return fail(context, coat.faults());
  const auto place = notebook_path(context);
  if (!place)
    return context.fail(place.fault());
  auto notebook = notebook::Notebook::open(*place);
  if (!notebook)
    return context.fail(notebook.fault());
  const auto number = notebook->add(*coat);
  if (!number)
    return context.fail(number.fault());
  context.say("coat " + std::to_string(*number));
  context.answer({{"coat", *number}});
  return kDone;
}

} // namespace

void add_import(CLI::App& program, Context& context) {
  auto path = std::make_shared<std::string>();
  CLI::App* command = program.add_subcommand("import", "Takes an exported coat into the notebook")
                          ->footer(kExamples);
  command->add_option("FILE", *path, "The coat.json of an export, or its folder")->required();
  command->callback([&context, path] {
    context.work = [&context, path] { return import_coat(context, *path); };
  });
}

} // namespace whirler::cli
