// A program as a benchmark starts it: its input empty, its output thrown away.
#pragma once

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

/// Ends the benchmark where the program cannot be started.
inline pid_t spawned(std::vector<std::string> words) {
  std::vector<char*> arguments;
  arguments.reserve(words.size() + 1);
  for (std::string& word : words)
    arguments.push_back(word.data());
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
  pid_t child = 0;
  const int failed =
      posix_spawn(&child, arguments[0], &actions, nullptr, arguments.data(), environ);
  posix_spawn_file_actions_destroy(&actions);
  if (failed != 0) {
    std::fprintf(stderr, "%s cannot be started\n", arguments[0]);
    std::exit(1);
  }
  return child;
}

/// Milliseconds from spawn to exit; ends the benchmark where the program does not end well.
inline double spawn_ms(const std::vector<std::string>& words) {
  const auto begin = std::chrono::steady_clock::now();
  const pid_t child = spawned(words);
  int status = 1;
  if (waitpid(child, &status, 0) != child || status != 0) {
    std::fprintf(stderr, "%s did not end well\n", words[0].c_str());
    std::exit(1);
  }
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin)
      .count();
}
