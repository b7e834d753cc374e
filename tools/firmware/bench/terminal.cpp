#include "terminal.hpp"

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <fcntl.h>
#include <poll.h>
#include <stdexcept>
#include <stdlib.h>
#include <termios.h>
#include <thread>
#include <unistd.h>

namespace bench {

namespace {

constexpr Cycles kSlice = kCyclesPerMs / 4;
using Clock = std::chrono::steady_clock;

void make_raw(int file) {
  termios settings{};
  tcgetattr(file, &settings);
  cfmakeraw(&settings);
  tcsetattr(file, TCSANOW, &settings);
}

} // namespace

PseudoTerminal::PseudoTerminal() : master_(posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK)) {
  if (master_ < 0 || grantpt(master_) != 0 || unlockpt(master_) != 0)
    throw std::runtime_error("no pseudo-terminal to be had");
  path_ = ptsname(master_);
  slave_ = open(path_.c_str(), O_RDWR | O_NOCTTY);
  if (slave_ < 0)
    throw std::runtime_error("cannot open " + path_);
  make_raw(slave_);
}

PseudoTerminal::~PseudoTerminal() {
  if (slave_ >= 0)
    close(slave_);
  if (master_ >= 0)
    close(master_);
}

std::vector<std::uint8_t> PseudoTerminal::take() {
  std::vector<std::uint8_t> bytes(256);
  const ssize_t count = read(master_, bytes.data(), bytes.size());
  bytes.resize(count > 0 ? static_cast<std::size_t>(count) : 0);
  return bytes;
}

void PseudoTerminal::put(std::uint8_t byte) { waiting_.push_back(byte); }

/// What the terminal has no room for waits; with nobody reading, the oldest goes, as on a real
/// line.
void PseudoTerminal::flush() {
  if (waiting_.empty())
    return;
  const ssize_t count = write(master_, waiting_.data(), waiting_.size());
  if (count > 0)
    waiting_.erase(waiting_.begin(), waiting_.begin() + count);
  if (waiting_.size() > 65536)
    waiting_.erase(waiting_.begin(), waiting_.begin() + 32768);
}

LiveStand::LiveStand(const StandModel& model) : LiveStand(model.image, rig_model(model)) {}

LiveStand::LiveStand(const std::string& image, const RigModel& model)
    : chip(std::string(FIRMWARE_IMAGES) + "/" + image + "/whirler.elf"), rig(chip, model),
      line(chip, 1) {
  line.on_received([this](std::uint8_t byte) { terminal_.put(byte); });
}

void LiveStand::run_for(Cycles span) {
  const Cycles end = chip.now() + span;
  auto wall = Clock::now();
  while (chip.now() < end) {
    const auto bytes = terminal_.take();
    line.send(bytes);
    if (!bytes.empty())
      last_heard_ = line.idle_from();
    chip.run_until(chip.now() + kSlice);
    terminal_.flush();
    wall += std::chrono::microseconds(250);
    const auto now = Clock::now();
    if (now < wall)
      std::this_thread::sleep_until(wall);
    else
      wall = std::max(wall, now - std::chrono::milliseconds(5)); // catch up a little, not for ever
  }
}

} // namespace bench
