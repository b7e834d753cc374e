#include "run_view.hpp"

#include "run_screen.hpp"

#include <cstdlib>
#include <sys/ioctl.h>
#include <unistd.h>

namespace whirler::cli {
namespace {

constexpr double kPlainEvery_s = 1.0;

bool can_draw(int descriptor) {
  const char* kind = std::getenv("TERM");
  return isatty(descriptor) == 1 && kind != nullptr && std::string(kind) != "dumb";
}

/// Set and not empty, by the rule of no-color.org.
bool colour_wanted() {
  const char* none = std::getenv("NO_COLOR");
  return none == nullptr || *none == '\0';
}

/// As it is now: a window changes while the plate turns. A terminal that does not say is usual.
ScreenSize size_of(int descriptor) {
  winsize window{};
  ScreenSize size;
  if (ioctl(descriptor, TIOCGWINSZ, &window) == 0 && window.ws_col > 0 && window.ws_row > 0)
    size = {window.ws_col, window.ws_row};
  return size;
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
  return film_lines(film, colour_wanted());
}

RunView::RunView(const Context& context)
    : descriptor_(context.json ? STDERR_FILENO : STDOUT_FILENO) {
  screen_ = can_draw(descriptor_);
  colour_ = screen_ && colour_wanted();
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
  std::string text = "\x1b[?7l"; // a wide character more than there is room for wraps no line
  if (drawn_ > 0)
    text += "\x1b[" + std::to_string(drawn_) + "A";
  const auto lines = screen_lines(progress, colour_, size_of(descriptor_));
  for (const auto& line : lines)
    text += "\x1b[2K" + line + "\n";
  text += "\x1b[J\x1b[?7h"; // what was drawn below, before the window grew smaller
  drawn_ = lines.size();
  write_all(descriptor_, text);
}

void RunView::write_line(const std::string& line) { write_all(descriptor_, line + "\n"); }

void RunView::close() { thread_.drain(); }

} // namespace whirler::cli
