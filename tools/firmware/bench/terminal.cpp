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
#include <utility>
#include <variant>

namespace bench {

namespace {

constexpr Cycles kSlice = kCyclesPerMs / 4;
constexpr std::uint8_t kCutByte = 0xC0;
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

PseudoTerminal::~PseudoTerminal() { hang_up(); }

void PseudoTerminal::hang_up() {
  for (int* file : {&slave_, &master_})
    if (*file >= 0)
      close(std::exchange(*file, -1));
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
  line.on_received([this](std::uint8_t byte) { listen(byte); });
}

void LiveStand::listen(std::uint8_t byte) {
  terminal_.put(byte);
  decoder_.feed(std::span(&byte, 1), [this](const whirler::link::Frame& frame) {
    const auto message = whirler::link::decode_driver(frame);
    if (const auto* good = std::get_if<whirler::link::DriverMessage>(&message))
      if (const auto* status = std::get_if<whirler::link::Status>(good))
        heard_ = *status;
  });
}

std::optional<whirler::link::Status> LiveStand::greet_past_terminal() {
  heard_.reset();
  line.damage(0.0);
  line.send(whirler::link::encode(whirler::link::Hello{1, 1, 7}, 0));
  run_for(ms(60));
  return heard_;
}

void LiveStand::carry_to_chip() {
  const auto bytes = terminal_.take();
  if (bytes.empty())
    return;
  Cycles begins = std::max(line.idle_from(), chip.now());
  for (const std::uint8_t byte : bytes) {
    if (byte == kCutByte && byte_before_ == kCutByte && !cut_began_)
      cut_began_ = begins - SerialLine::kByteCycles;
    byte_before_ = byte;
    begins += SerialLine::kByteCycles;
  }
  line.send(bytes);
  last_heard_ = line.idle_from();
}

void LiveStand::run_for(Cycles span, double hurry) {
  const Cycles end = chip.now() + span;
  const auto slice = std::chrono::nanoseconds(static_cast<long>(250'000.0 / hurry));
  auto wall = Clock::now();
  while (chip.now() < end) {
    carry_to_chip();
    chip.run_until(chip.now() + kSlice);
    terminal_.flush();
    wall += slice;
    const auto now = Clock::now();
    if (now < wall) {
      std::this_thread::sleep_until(wall);
      continue;
    }
    const std::chrono::duration<double, std::milli> late = now - wall;
    if (hurry == 1.0)
      worst_late_ms_ = std::max(worst_late_ms_, late.count());
    wall = std::max(wall, now - std::chrono::milliseconds(5)); // catch up a little, not for ever
  }
}

} // namespace bench
