// The built program in a real terminal (a pseudo-terminal), driven as a person does: wait for a
// text, type an answer.
#pragma once

#include "catch.hpp"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <poll.h>
#include <pty.h>
#include <string>
#include <sys/wait.h>
#include <unistd.h>

namespace whirler::cli {

class Terminal {
 public:
  /// `arguments` as a shell has them; `environment` as "NAME=value" words before the program.
  explicit Terminal(const std::string& arguments, const std::string& environment = "",
                    const winsize& size = {40, 120, 0, 0}) {
    child_ = forkpty(&master_, nullptr, nullptr, &size);
    REQUIRE(child_ >= 0);
    if (child_ == 0) {
      const std::string line =
          "exec env LC_ALL=C TERM=xterm " + environment + " " + WHIRLER_PROGRAM + " " + arguments;
      execl("/bin/sh", "sh", "-c", line.c_str(), nullptr);
      _exit(127);
    }
  }
  ~Terminal() {
    if (child_ > 0 && !ended_) {
      kill(child_, SIGKILL);
      waitpid(child_, nullptr, 0);
    }
    close(master_);
  }
  Terminal(const Terminal&) = delete;
  Terminal& operator=(const Terminal&) = delete;

  /// Reads on until `text` has come after what was waited for last. False after a minute, or where
  /// the program ended without it.
  bool wait_for(const std::string& text) {
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    for (;;) {
      const auto at = said_.find(text, seen_);
      if (at != std::string::npos) {
        seen_ = at + text.size();
        return true;
      }
      if (!read_more(until))
        return false;
    }
  }
  /// Whether `good` came first; `bad` did otherwise, or neither, which fails the test.
  bool wait_for_either(const std::string& good, const std::string& bad) {
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    for (;;) {
      const auto at = std::min(said_.find(good, seen_), said_.find(bad, seen_));
      if (at != std::string::npos) {
        seen_ = at + 1;
        return said_.compare(at, good.size(), good) == 0;
      }
      CAPTURE(said_);
      REQUIRE(read_more(until));
    }
  }
  void type(const std::string& line) const { press(line + "\n"); }
  /// Keys as they are: "\x03" is Ctrl-C.
  void press(const std::string& text) const {
    REQUIRE(write(master_, text.data(), text.size()) == static_cast<ssize_t>(text.size()));
  }
  /// As a power cut does.
  void kill_it() {
    kill(child_, SIGKILL);
    waitpid(child_, nullptr, 0);
    ended_ = true;
  }
  /// Everything up to the end; the exit status.
  int finish() {
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds(60);
    while (read_more(until)) {
    }
    int status = 0;
    REQUIRE(waitpid(child_, &status, 0) == child_);
    ended_ = true;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  [[nodiscard]] const std::string& said() const { return said_; }

 private:
  bool read_more(std::chrono::steady_clock::time_point until) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        until - std::chrono::steady_clock::now());
    pollfd waiting{master_, POLLIN, 0};
    if (left.count() <= 0 || poll(&waiting, 1, static_cast<int>(left.count())) <= 0)
      return false;
    char block[4096];
    const ssize_t count = read(master_, block, sizeof block);
    if (count <= 0)
      return false; // the program has gone
    said_.append(block, static_cast<std::size_t>(count));
    return true;
  }

  int master_ = -1;
  pid_t child_ = -1;
  bool ended_ = false;
  std::string said_;
  std::size_t seen_ = 0;
};

} // namespace whirler::cli
