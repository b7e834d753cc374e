#include "run_view.hpp"

#include "run_screen.hpp"

#include <cstdlib>
#include <unistd.h>

namespace whirler::cli {
namespace {

constexpr double kPlainEvery_s = 1.0;

bool can_draw(int descriptor) {
  const char* kind = std::getenv("TERM");
  return isatty(descriptor) == 1 && kind != nullptr && std::string(kind) != "dumb";
}

void write_all(int descriptor, const std::string& text) {
  std::size_t done = 0;
  while (done < text.size()) {
    const auto count = ::write(descriptor, text.data() + done, text.size() - done);
    if (count <= 0)
      return; // nobody reads any more: the run goes on without a view
    done += static_cast<std::size_t>(count);
  }
}

} // namespace

std::vector<std::string> result_rows(bool json, Length film) {
  if (!can_draw(json ? STDERR_FILENO : STDOUT_FILENO))
    return {};
  return film_lines(film, std::getenv("NO_COLOR") == nullptr);
}

RunView::RunView(const Context& context)
    : descriptor_(context.json ? STDERR_FILENO : STDOUT_FILENO) {
  screen_ = can_draw(descriptor_);
  // Set and not empty, by the rule of no-color.org.
  const char* no_colour = std::getenv("NO_COLOR");
  colour_ = screen_ && (no_colour == nullptr || *no_colour == '\0');
}

session::Observer RunView::observer() {
  session::Observer observer;
  observer.on_greeted = [this](const drive::Identity& identity) {
    tell("driver: " + identity.facts.name + " " + identity.version);
    for (const auto& caution : identity.cautions)
      tell("caution: " + caution);
  };
  observer.on_progress = [this](const session::Progress& progress) { show(progress); };
  observer.on_event = [this](const std::string& text) { tell(text); };
  return observer;
}

void RunView::show(const session::Progress& progress) {
  if (writing_.exchange(true)) // the last one is still on its way: this one is left out
    return;
  thread_.post([this, progress] {
    if (screen_)
      write_screen(progress);
    else if (progress.elapsed.s() - last_line_s_ >= kPlainEvery_s ||
             last_state_ != run::word(progress.state)) {
      last_line_s_ = progress.elapsed.s();
      last_state_ = run::word(progress.state);
      write_line(plain_line(progress));
    }
    writing_ = false;
  });
}

void RunView::tell(const std::string& text) {
  thread_.post([this, text] {
    if (!screen_ || drawn_ == 0) // else the screen says it already, larger
      write_line(text);
  });
}

void RunView::write_screen(const session::Progress& progress) {
  std::string text;
  if (drawn_ > 0)
    text += "\x1b[" + std::to_string(drawn_) + "A";
  const auto lines = screen_lines(progress, colour_);
  for (const auto& line : lines)
    text += "\x1b[2K" + line + "\n";
  drawn_ = lines.size();
  write_all(descriptor_, text);
}

void RunView::write_line(const std::string& line) { write_all(descriptor_, line + "\n"); }

void RunView::close() { thread_.drain(); }

} // namespace whirler::cli
