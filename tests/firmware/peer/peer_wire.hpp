// A line to the driver in Python, which runs as a program of its own at a pseudo-terminal.
#pragma once

#include "conversation.hpp"

#include <chrono>
#include <string>
#include <sys/types.h>

/// A pseudo-terminal whose far end stays open here too: else its near end would read an error as
/// soon as the first program closes.
class RawTerminal {
 public:
  RawTerminal(); ///< throws std::runtime_error
  ~RawTerminal();
  RawTerminal(const RawTerminal&) = delete;
  RawTerminal& operator=(const RawTerminal&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  void write(std::span<const std::uint8_t> bytes) const;
  /// What has come, without waiting.
  [[nodiscard]] std::vector<std::uint8_t> read() const;

 private:
  int near_ = -1;
  int far_ = -1;
  std::string path_;
};

class PeerWire : public conversation::Wire {
 public:
  PeerWire(); ///< waits until the driver listens; throws std::runtime_error
  ~PeerWire() override;
  void send(std::span<const std::uint8_t> bytes) override { terminal_.write(bytes); }
  std::vector<std::uint8_t> pass(whirler::Duration span) override;
  void lid(bool open) override;
  [[nodiscard]] whirler::Duration now() const override;

 private:
  void start();

  RawTerminal terminal_;
  pid_t peer_ = -1;
  std::chrono::steady_clock::time_point began_;
};
