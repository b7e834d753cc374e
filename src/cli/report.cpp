// `whirler report`: a coat of the notebook, or many of them side by side, as a page for people.
#include "coat_page.hpp"
#include "commands.hpp"
#include "log_filter.hpp"
#include "stored_coats.hpp"
#include "trend_page.hpp"
#include "write_file.hpp"

#include <algorithm>
#include <deque>
#include <future>
#include <iostream>
#include <memory>
#include <thread>

namespace whirler::cli {
namespace {

/// Each coat takes some 20 ms to read again, and more than these share a millimetre of the paper.
constexpr std::size_t kMostOnTrend = 200;

struct Options {
  std::int64_t number = 0;
  bool trend = false;
  notebook::Filter filter;
  std::string output;
};

/// A page, what is said of it, and what a program is told.
struct Made {
  report::Page page;
  std::string name; ///< of its file, where none was asked for
  std::string words;
  Json document;
};

Result<Made> of_coat(notebook::Notebook& notebook, const Options& options) {
  const auto coat = notebook.coat(options.number);
  if (!coat)
    return coat.fault();
  const std::string number = std::to_string(options.number);
  return Made{
      coat_page(*coat), "coat_" + number + ".html", "Coat " + number, {{"coat", options.number}}};
}

Result<Made> of_many(notebook::Notebook& notebook, const Options& options) {
  auto lines = notebook.log(options.filter);
  if (!lines)
    return lines.fault();
  const std::size_t left_out = lines->size() - std::min(lines->size(), kMostOnTrend);
  lines->resize(lines->size() - left_out); // the newest come first
  std::reverse(lines->begin(), lines->end());
  // The films are most of the work, each apart from all others.
  const std::size_t at_once = std::max(1U, std::thread::hardware_concurrency());
  std::vector<TrendCoat> coats;
  std::deque<std::future<TrendCoat>> under_way;
  const auto take_first = [&] {
    coats.push_back(under_way.front().get());
    under_way.pop_front();
  };
  for (const notebook::CoatLine& line : *lines) {
    auto coat = notebook.coat(line.number);
    if (!coat)
      return coat.fault();
    under_way.push_back(std::async(std::launch::async,
                                   [coat = std::move(coat).value()] { return trend_of(coat); }));
    if (under_way.size() > at_once)
      take_first();
  }
  while (!under_way.empty())
    take_first();
  return Made{trend_page(coats, left_out), "trend.html",
              "Trend over " + std::to_string(coats.size()) +
                  (left_out > 0 ? " coats, the newest" : " coats"),
              trend_json(coats)};
}

int report_command(const Options& options, const Context& context) {
  if (options.trend == (options.number != 0))
    return context.fail({FaultKind::command_line, "neither or both of a coat and --trend", "",
                         "give a coat's number, or --trend"});
  if (options.output == "-" && context.json)
    return context.fail({FaultKind::command_line, "the page and the JSON both want stdout", "",
                         "give --output a file, or leave --json out"});
  auto notebook = notebook_to_read(context.notebook);
  if (!notebook)
    return context.fail(notebook.fault());
  auto made = options.trend ? of_many(*notebook, options) : of_coat(*notebook, options);
  if (!made)
    return context.fail(made.fault());
  const std::string path = options.output.empty() ? made->name : options.output;
  const std::string page = report::html(made->page);
  if (path == "-") {
    std::cout << page;
    return kDone;
  }
  const auto written = write_text_file(path, page);
  if (!written)
    return context.fail(written.fault());
  context.say(made->words + ": page written to " + path);
  made->document["page"] = path;
  made->document["bytes"] = page.size();
  context.answer(made->document);
  return kDone;
}

constexpr auto kReportExamples =
    R"(The page needs nothing else: open it in a browser, or print it on A4.
A coat's page reads its pulses anew; the trend shows the vibration as each run judged it.

Examples:
  whirler report 12
  whirler report 12 --output board_7.html
  whirler report --trend
  whirler report --trend --resist amber --since 2024-05-01 --output may.html)";

} // namespace

void add_report(CLI::App& program, Context& context) {
  CLI::App& command =
      *program.add_subcommand("report", "A coat as a page, or many coats side by side");
  const auto options = std::make_shared<Options>();
  CLI::Option* coat =
      command.add_option("COAT", options->number, "Its number in the notebook")->check(from_one());
  CLI::Option* trend =
      command.add_flag("--trend", options->trend, "Many coats side by side")->excludes(coat);
  for (CLI::Option* filter : add_filter_options(command, options->filter))
    filter->needs(trend);
  command
      .add_option("--output", options->output,
                  "The page's file (coat_N.html or trend.html; - for stdout)")
      ->type_name("FILE");
  command.footer(kReportExamples);
  command.callback([options, &context] {
    context.work = [options, &context] { return report_command(*options, context); };
  });
}

} // namespace whirler::cli
