// A real serial line for tests: a pseudo-terminal whose far end the test holds.
#pragma once

#include "catch.hpp"

#include <cstdint>
#include <cstdlib>
#include <fcntl.h>
#include <poll.h>
#include <string>
#include <termios.h>
#include <unistd.h>
#include <vector>

namespace whirler::test {

class PtyPair {
 public:
  PtyPair() : far_(posix_openpt(O_RDWR | O_NOCTTY)) {
    REQUIRE(far_ >= 0);
    REQUIRE(grantpt(far_) == 0);
    REQUIRE(unlockpt(far_) == 0);
    path_ = ptsname(far_);
  }
  ~PtyPair() { unplug(); }
  PtyPair(const PtyPair&) = delete;
  PtyPair& operator=(const PtyPair&) = delete;

  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] int far_end() const { return far_; }

  void write(const std::vector<std::uint8_t>& bytes) const {
    REQUIRE(::write(far_, bytes.data(), bytes.size()) == static_cast<ssize_t>(bytes.size()));
  }
  /// What has arrived at the far end; waits up to `patience_ms` for the first byte.
  [[nodiscard]] std::vector<std::uint8_t> read(int patience_ms = 1000) const {
    pollfd ready{far_, POLLIN, 0};
    std::vector<std::uint8_t> bytes;
    while (poll(&ready, 1, bytes.empty() ? patience_ms : 0) == 1 && (ready.revents & POLLIN) != 0) {
      std::uint8_t chunk[512];
      const auto count = ::read(far_, chunk, sizeof chunk);
      if (count <= 0)
        break;
      bytes.insert(bytes.end(), chunk, chunk + count);
    }
    return bytes;
  }
  void unplug() {
    if (far_ >= 0)
      ::close(far_);
    far_ = -1;
  }

 private:
  int far_;
  std::string path_;
};

} // namespace whirler::test
