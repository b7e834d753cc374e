#include "coat_job.hpp"

#include "board_job.hpp"
#include "run_job.hpp"

namespace whirler::cli {

int coat_board(const CoatWords& words, const Context& context) {
  FileLoader files(context);
  auto plan = plan_board(files, words.board);
  if (!plan)
    return files.fail();
  if (!*plan)
    return context.fail(plan->fault());
  auto run = load_run(files, (**plan).run);
  if (!run)
    return files.fail();
  if (!*run)
    return context.fail(run->fault());
  if (const auto ok = check_words(words, (**plan).board.sides, (**run).order.plan.machine); !ok)
    return context.fail(ok.fault());
  (**plan).run.faults = words.faults;
  if (const auto ok = settle((**plan).run, **run); !ok)
    return context.fail(ok.fault());
  if (!words.board.file.empty()) {
    const auto text = read_text_file(words.board.file);
    if (!text)
      return context.fail(text.fault());
    (**run).texts.push_back({"board", words.board.file, *text});
  }
  auto notebook = open_notebook(context);
  if (!notebook)
    return context.fail(notebook.fault());
  return BoardJob(words, context, std::move(**plan), std::move(**run), std::move(*notebook)).go();
}

} // namespace whirler::cli
