#include "peer_wire.hpp"

#include <csignal>
#include <cstdlib>
#include <fcntl.h>
#include <stdexcept>
#include <sys/wait.h>
#include <termios.h>
#include <thread>
#include <unistd.h>

RawTerminal::RawTerminal() : near_(posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK)) {
  if (near_ < 0 || grantpt(near_) != 0 || unlockpt(near_) != 0)
    throw std::runtime_error("no pseudo-terminal to be had");
  path_ = ptsname(near_);
  far_ = open(path_.c_str(), O_RDWR | O_NOCTTY);
  termios settings{};
  tcgetattr(far_, &settings);
  cfmakeraw(&settings);
  tcsetattr(far_, TCSANOW, &settings);
}

RawTerminal::~RawTerminal() {
  close(far_);
  close(near_);
}

void RawTerminal::write(std::span<const std::uint8_t> bytes) const {
  if (::write(near_, bytes.data(), bytes.size()) != static_cast<ssize_t>(bytes.size()))
    throw std::runtime_error("the pseudo-terminal is full");
}

std::vector<std::uint8_t> RawTerminal::read() const {
  std::vector<std::uint8_t> bytes(65536);
  const ssize_t count = ::read(near_, bytes.data(), bytes.size());
  bytes.resize(count > 0 ? static_cast<std::size_t>(count) : 0);
  return bytes;
}

PeerWire::PeerWire() {
  start();
  began_ = std::chrono::steady_clock::now();
}

PeerWire::~PeerWire() {
  kill(peer_, SIGKILL);
  waitpid(peer_, nullptr, 0);
}

std::vector<std::uint8_t> PeerWire::pass(whirler::Duration span) {
  std::this_thread::sleep_for(std::chrono::duration<double>(span.s()));
  return terminal_.read();
}

void PeerWire::lid(bool open) { kill(peer_, open ? SIGUSR1 : SIGUSR2); }

whirler::Duration PeerWire::now() const {
  const std::chrono::duration<double> since = std::chrono::steady_clock::now() - began_;
  return whirler::seconds(since.count());
}

/// Waits for its word that it listens, so that no signal comes before it can take it.
void PeerWire::start() {
  int ready[2];
  if (pipe(ready) != 0)
    throw std::runtime_error("no pipe to be had");
  peer_ = fork();
  if (peer_ == 0) {
    dup2(ready[1], STDOUT_FILENO);
    execl(PEER_PYTHON, PEER_PYTHON, PEER_PROGRAM, terminal_.path().c_str(), "--powered-for", "60",
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
