// A driver in Python, written from the protocol's page alone, holds the same conversation.
#include "catch.hpp"
#include "conversation.hpp"

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fcntl.h>
#include <poll.h>
#include <stdexcept>
#include <sys/wait.h>
#include <termios.h>
#include <thread>
#include <unistd.h>

namespace {

using Clock = std::chrono::steady_clock;

class PeerWire : public conversation::Wire {
 public:
  PeerWire() : master_(posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK)) {
    if (master_ < 0 || grantpt(master_) != 0 || unlockpt(master_) != 0)
      throw std::runtime_error("no pseudo-terminal to be had");
    const std::string path = ptsname(master_);
    slave_ = open(path.c_str(), O_RDWR | O_NOCTTY);
    termios settings{};
    tcgetattr(slave_, &settings);
    cfmakeraw(&settings);
    tcsetattr(slave_, TCSANOW, &settings);
    start(path);
    began_ = Clock::now();
  }
  ~PeerWire() override {
    kill(peer_, SIGKILL);
    waitpid(peer_, nullptr, 0);
    close(slave_);
    close(master_);
  }
  void send(std::span<const std::uint8_t> bytes) override {
    if (write(master_, bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size()))
      throw std::runtime_error("the pseudo-terminal is full");
  }
  std::vector<std::uint8_t> pass(whirler::Duration span) override {
    std::this_thread::sleep_for(std::chrono::duration<double>(span.s()));
    std::vector<std::uint8_t> bytes(65536);
    const ssize_t count = read(master_, bytes.data(), bytes.size());
    bytes.resize(count > 0 ? static_cast<std::size_t>(count) : 0);
    return bytes;
  }
  void lid(bool open) override { kill(peer_, open ? SIGUSR1 : SIGUSR2); }
  whirler::Duration now() const override {
    return whirler::seconds(std::chrono::duration<double>(Clock::now() - began_).count());
  }

 private:
  /// Waits for its word that it listens, so that no signal comes before it can take it.
  void start(const std::string& path) {
    int ready[2];
    if (pipe(ready) != 0)
      throw std::runtime_error("no pipe to be had");
    peer_ = fork();
    if (peer_ == 0) {
      dup2(ready[1], STDOUT_FILENO);
      execl(PEER_PYTHON, PEER_PYTHON, PEER_PROGRAM, path.c_str(), "--powered-for", "60",
            static_cast<char*>(nullptr));
      _exit(127);
    }
    close(ready[1]);
    char first = 0;
    const ssize_t count = read(ready[0], &first, 1);
    close(ready[0]);
    if (count != 1)
      throw std::runtime_error("the Python driver did not start");
  }

  int master_;
  int slave_ = -1;
  pid_t peer_ = -1;
  Clock::time_point began_;
};

} // namespace

TEST_CASE("a driver written from the protocol alone holds the conversation", "[peer]") {
  PeerWire wire;
  conversation::hold(wire);
}
