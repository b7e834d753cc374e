// What a run shows while it goes and when it is over: a live screen on a terminal, plain lines
// elsewhere. Written from a thread of its own, since a terminal can be stopped with a key and a
// pipe can fill, and neither may hold up the run.
#pragma once

#include "context.hpp"
#include "run_vibration.hpp"
#include "whirler/session/run_session.hpp"
#include "whirler/session/side_thread.hpp"

#include <atomic>
#include <string>
#include <vector>

namespace whirler::cli {

class RunView {
 public:
  explicit RunView(const Context& context);
  [[nodiscard]] session::Observer observer();
  /// Waits until all has been written; the screen then stays as it is.
  void close();

 private:
  void show(const session::Progress& progress);
  void tell(const std::string& text);
  void write_screen(const session::Progress& progress);
  void write_line(const std::string& line);

  bool screen_; ///< a terminal that can be drawn on
  bool colour_;
  int descriptor_;
  std::size_t drawn_ = 0;     ///< lines on the screen now
  double last_line_s_ = -1e9; ///< when the last plain line was written
  std::string last_state_;
  std::atomic<bool> writing_ = false;
  session::SideThread thread_; // last: ends before what it writes with
};

/// A film in large figures where the run was drawn on a terminal; else none.
[[nodiscard]] std::vector<std::string> result_rows(bool json, Length film);

/// A run that was refused, or is over and judged.
struct DoneRun : session::RunResult {
  Vibration vibration; ///< where it was started
};

/// The JSON of a finished run, keys as the README has them.
[[nodiscard]] Json run_json(const DoneRun& result);
/// Its lines for people: how it ended, the plate's verdict, what to do.
[[nodiscard]] std::vector<std::string> run_lines(const DoneRun& result);
/// Exit status of a run that was started or refused.
[[nodiscard]] int run_status(const session::RunResult& result);

} // namespace whirler::cli
