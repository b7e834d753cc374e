// Runs the built program as a person would, and keeps what it said.
#pragma once

#include "catch.hpp"

#include <nlohmann/json.hpp>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <sys/wait.h>
#include <unistd.h>

namespace whirler::cli {

/// A folder of its own for a test, gone with it.
class TestFolder {
 public:
  TestFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "whirler_test_XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~TestFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TestFolder(const TestFolder&) = delete;
  TestFolder& operator=(const TestFolder&) = delete;

  [[nodiscard]] std::string path(const std::string& name) const { return (path_ / name).string(); }
  /// Writes a file; gives its path.
  std::string write(const std::string& name, const std::string& text) const {
    std::ofstream(path(name), std::ios::binary) << text;
    return path(name);
  }
  [[nodiscard]] std::string read(const std::string& name) const {
    std::ifstream file(path(name), std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }

 private:
  std::filesystem::path path_;
};

struct Said {
  int status = -1;
  std::string out;
  std::string err;

  [[nodiscard]] nlohmann::json json() const { return nlohmann::json::parse(out); }
};

/// `arguments` as a shell has them.
inline Said run_program(const std::string& arguments) {
  const TestFolder folder;
  const std::string command = std::string("LC_ALL=C ") + WHIRLER_PROGRAM + " " + arguments + " >" +
                              folder.path("out") + " 2>" + folder.path("err") + " </dev/null";
  const int ended = std::system(command.c_str());
  return {WIFEXITED(ended) ? WEXITSTATUS(ended) : -1, folder.read("out"), folder.read("err")};
}

} // namespace whirler::cli
