#include "whirler/drive/pseudo_terminal.hpp"

#include <array>
#include <cstdlib>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <poll.h>
#include <sys/inotify.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>
#include <utility>

namespace whirler::drive {
namespace {

namespace fs = std::filesystem;

Fault no_terminal(const std::string& what) {
  return {FaultKind::link, "no pseudo-terminal: " + what, "", "check that /dev/pts is mounted"};
}

std::string why() { return std::strerror(errno); }

bool make_raw(int descriptor) {
  termios settings{};
  if (tcgetattr(descriptor, &settings) != 0)
    return false;
  cfmakeraw(&settings);
  return tcsetattr(descriptor, TCSANOW, &settings) == 0;
}

Outcome make_link(const std::string& link, const std::string& target) {
  std::error_code error;
  const auto there = fs::symlink_status(link, error);
  if (fs::exists(there) && !fs::is_symlink(there))
    return Fault{FaultKind::link, "something else has this name", link, "give another name"};
  fs::remove(link, error);
  fs::create_symlink(target, link, error);
  if (error)
    return Fault{FaultKind::link, "the link cannot be made: " + error.message(), link,
                 "give a name in a folder that you may write to"};
  return Done{};
}

void close_if_open(int& descriptor) {
  if (descriptor >= 0)
    ::close(descriptor);
  descriptor = -1;
}

} // namespace

Result<PseudoTerminal> PseudoTerminal::open(const std::string& link) {
  PseudoTerminal made;
  made.near_ = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
  if (made.near_ < 0 || grantpt(made.near_) != 0 || unlockpt(made.near_) != 0)
    return no_terminal(why());
  std::array<char, 128> name{};
  if (ptsname_r(made.near_, name.data(), name.size()) != 0)
    return no_terminal(why());
  made.name_ = name.data();
  made.far_ = ::open(name.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  if (made.far_ < 0 || !make_raw(made.far_))
    return no_terminal(why());
  made.watch_ = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
  if (made.watch_ < 0 || inotify_add_watch(made.watch_, name.data(), IN_OPEN | IN_CLOSE) < 0)
    return no_terminal("its clients cannot be watched: " + why());
  if (!link.empty()) {
    if (const auto linked = make_link(link, made.name_); !linked)
      return linked.fault();
    made.link_ = link;
  }
  return made;
}

PseudoTerminal::PseudoTerminal(PseudoTerminal&& other) noexcept { *this = std::move(other); }

PseudoTerminal& PseudoTerminal::operator=(PseudoTerminal&& other) noexcept {
  std::swap(near_, other.near_);
  std::swap(far_, other.far_);
  std::swap(watch_, other.watch_);
  std::swap(clients_, other.clients_);
  std::swap(came_, other.came_);
  std::swap(name_, other.name_);
  std::swap(link_, other.link_);
  return *this;
}

PseudoTerminal::~PseudoTerminal() { close(); }

void PseudoTerminal::close() {
  std::error_code error;
  if (!link_.empty() && fs::read_symlink(link_, error) == name_)
    fs::remove(link_, error);
  link_.clear();
  close_if_open(watch_);
  close_if_open(far_);
  close_if_open(near_);
}

void PseudoTerminal::wait(Duration most, int wake) {
  std::array<pollfd, 3> watched{pollfd{near_, POLLIN, 0}, pollfd{watch_, POLLIN, 0},
                                pollfd{wake, POLLIN, 0}};
  poll(watched.data(), watched.size(), static_cast<int>(most.ms()));
  watch_clients();
}

/// Counts clients that came and went since the last look.
void PseudoTerminal::watch_clients() {
  alignas(inotify_event) std::array<char, 4096> events{};
  for (ssize_t size = 0; (size = ::read(watch_, events.data(), events.size())) > 0;)
    for (ssize_t at = 0; at < size;) {
      const auto* event = reinterpret_cast<const inotify_event*>(events.data() + at);
      at += static_cast<ssize_t>(sizeof(inotify_event) + event->len);
      if ((event->mask & IN_OPEN) != 0) {
        came_ = came_ || clients_ == 0;
        ++clients_;
      } else if ((event->mask & IN_CLOSE) != 0 && clients_ > 0 && --clients_ == 0) {
        ioctl(far_, TIOCNXCL);
        tcflush(far_, TCIOFLUSH);
      }
    }
}

std::vector<std::uint8_t> PseudoTerminal::read() {
  std::vector<std::uint8_t> bytes;
  std::array<std::uint8_t, 4096> part{};
  for (ssize_t count = 0; (count = ::read(near_, part.data(), part.size())) > 0;)
    bytes.insert(bytes.end(), part.begin(), part.begin() + count);
  return bytes;
}

void PseudoTerminal::write(std::span<const std::uint8_t> bytes) {
  if (clients_ > 0 && !bytes.empty())
    while (!bytes.empty()) {
      const ssize_t count = ::write(near_, bytes.data(), bytes.size());
      if (count <= 0)
        return;
      bytes = bytes.subspan(static_cast<std::size_t>(count));
    }
}

bool PseudoTerminal::client_came() { return std::exchange(came_, false); }

} // namespace whirler::drive
