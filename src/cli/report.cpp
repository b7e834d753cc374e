// `whirler report`: a coat of the notebook as a page for people.
#include "coat_page.hpp"
#include "commands.hpp"
#include "whirler/notebook/notebook.hpp"
#include "write_file.hpp"

#include <iostream>
#include <memory>

namespace whirler::cli {
namespace {

struct Options {
  std::int64_t number = 0;
  std::string output;
};

Result<notebook::Coat> coat_of(const Options& options, const Context& context) {
  std::string path = context.notebook;
  if (path.empty()) {
    const auto usual = notebook::default_path();
    if (!usual)
      return usual.fault();
    path = *usual;
  }
  auto notebook = notebook::Notebook::open_existing(path);
  if (!notebook)
    return notebook.fault();
  return notebook->coat(options.number);
}

int report_command(const Options& options, const Context& context) {
  const auto coat = coat_of(options, context);
  if (!coat)
    return context.fail(coat.fault());
  const std::string path =
      options.output.empty() ? "coat_" + std::to_string(options.number) + ".html" : options.output;
  const std::string page = report::html(coat_page(*coat));
  if (path == "-" && !context.json) {
    std::cout << page;
    return kDone;
  }
  const auto written = write_text_file(path, page);
  if (!written)
    return context.fail(written.fault());
  context.say("Coat " + std::to_string(options.number) + ": page written to " + path);
  context.answer({{"coat", options.number}, {"page", path}, {"bytes", page.size()}});
  return kDone;
}

constexpr auto kExamples = R"(The page needs nothing else: open it in a browser, or print it on A4.

Examples:
  whirler report 12
  whirler report 12 --output board_7.html)";

} // namespace

void add_report(CLI::App& program, Context& context) {
  CLI::App& command =
      *program.add_subcommand("report", "A coat as a page: verdicts, charts, plate");
  const auto options = std::make_shared<Options>();
  command.add_option("COAT", options->number, "Its number in the notebook")->required();
  command.add_option("--output", options->output, "The page's file (coat_N.html; - for stdout)")
      ->type_name("FILE");
  command.footer(kExamples);
  command.callback([options, &context] {
    context.work = [options, &context] { return report_command(*options, context); };
  });
}

} // namespace whirler::cli
