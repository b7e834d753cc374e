#include "host_program.hpp"

#include <csignal>
#include <fcntl.h>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <spawn.h>
#include <stdexcept>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>
#include <utility>

namespace bench {

namespace {

std::string text_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

/// The program's three standard files.
class Files {
 public:
  explicit Files(const std::string& folder) {
    posix_spawn_file_actions_init(&actions_);
    open(STDIN_FILENO, "/dev/null", O_RDONLY);
    open(STDOUT_FILENO, folder + "/out", O_WRONLY | O_CREAT | O_TRUNC);
    open(STDERR_FILENO, folder + "/err", O_WRONLY | O_CREAT | O_TRUNC);
  }
  ~Files() { posix_spawn_file_actions_destroy(&actions_); }
  Files(const Files&) = delete;
  Files& operator=(const Files&) = delete;
  [[nodiscard]] const posix_spawn_file_actions_t* get() const { return &actions_; }

 private:
  void open(int descriptor, const std::string& path, int how) {
    posix_spawn_file_actions_addopen(&actions_, descriptor, path.c_str(), how, 0600);
  }
  posix_spawn_file_actions_t actions_{};
};

int status_of(int ended) { return WIFEXITED(ended) ? WEXITSTATUS(ended) : 128 + WTERMSIG(ended); }

} // namespace

HostProgram::HostProgram(const std::vector<std::string>& words, std::string folder)
    : folder_(std::move(folder)) {
  const Files files(folder_);
  std::vector<char*> arguments;
  for (const std::string& word : words)
    arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  if (posix_spawn(&process_, arguments[0], files.get(), nullptr, arguments.data(), environ) != 0)
    throw std::runtime_error("cannot start " + words.front());
}

HostProgram::~HostProgram() {
  if (ended())
    return;
  kill(process_, SIGKILL);
  waitpid(process_, nullptr, 0);
}

void HostProgram::signal(int number) {
  if (!ended())
    kill(process_, number);
}

std::optional<int> HostProgram::ended() {
  int how = 0;
  if (!status_ && waitpid(process_, &how, WNOHANG) == process_)
    status_ = status_of(how);
  return status_;
}

std::string HostProgram::answer() const { return text_of(folder_ + "/out"); }
std::string HostProgram::said() const { return text_of(folder_ + "/err"); }

ScratchFolder::ScratchFolder()
    : path_((std::filesystem::temp_directory_path() / "firmware_bench_XXXXXX").string()) {
  if (mkdtemp(path_.data()) == nullptr)
    throw std::runtime_error("cannot make a folder like " + path_);
}

ScratchFolder::~ScratchFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

std::string ScratchFolder::write(const std::string& name, const std::string& text) const {
  std::ofstream(path_ + "/" + name, std::ios::binary) << text;
  return path_ + "/" + name;
}

} // namespace bench
