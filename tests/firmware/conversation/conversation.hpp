// The conversation of the link's protocol, held with any driver over any wire: the firmware on the
// emulated chip, and a driver in another language that was written from the protocol alone.
#pragma once

#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/units/quantities.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <variant>
#include <vector>

namespace conversation {

namespace link = whirler::link;
using whirler::Duration;

/// A line to a driver, and the driver's time.
class Wire {
 public:
  virtual ~Wire() = default;
  Wire() = default;
  Wire(const Wire&) = delete;
  Wire& operator=(const Wire&) = delete;

  virtual void send(std::span<const std::uint8_t> bytes) = 0;
  /// Lets time pass and gives what the driver said in it.
  virtual std::vector<std::uint8_t> pass(Duration span) = 0;
  virtual void lid(bool open) = 0;
  /// The driver's time since the wire was made.
  [[nodiscard]] virtual Duration now() const = 0;
};

using Answer = std::variant<link::Ack, link::Nak>;

struct Heard {
  Duration at;
  link::Status status;
};

/// A host of a few lines over such a wire.
class Talk {
 public:
  explicit Talk(Wire& wire) : wire_(wire) {}

  void send(std::span<const std::uint8_t> raw) { wire_.send(raw); }
  std::uint8_t send(const link::HostMessage& message);
  void pass(Duration span);
  /// Passes time until `wanted`, at most so long.
  bool wait_for(const std::function<bool()>& wanted, Duration patience);

  std::optional<link::HelloReply> greet(const link::Hello& hello);
  std::optional<link::HelloReply> greet() { return greet({1, 1, ++nonce_}); }
  /// The answer to this message; none within 200 ms.
  std::optional<Answer> ask(const link::HostMessage& message);
  std::optional<Answer> ask(std::span<const std::uint8_t> frame);
  /// Code of the refusal; none when it was accepted.
  std::optional<link::NakCode> refused(const link::HostMessage& message);

  /// Greeted, at standstill, cleared.
  void make_ready();
  /// Ready, with a short program of one step uploaded; returns what starts it.
  link::Start upload();
  link::Start upload(const std::vector<link::Segment>& segments);
  /// Keep-alives every 20 ms while time passes.
  void keep_alive(bool wanted) { alive_ = wanted; }
  bool reach(link::DriverState state, Duration patience);
  bool reach(link::Phase phase, Duration patience);

  [[nodiscard]] const link::Status& last() const { return statuses.back().status; }
  [[nodiscard]] const link::HelloReply& driver() const { return *driver_; }

  std::vector<Heard> statuses;
  std::vector<link::Pulses> pulses;
  std::vector<link::Nak> naks;
  std::vector<link::Ack> acks;
  std::uint64_t bytes = 0;
  std::uint64_t bad_frames = 0; ///< that were whole and yet no message
  link::Decoder decoder;
  Wire& wire() { return wire_; }

 private:
  void take(const link::DriverMessage& message);

  Wire& wire_;
  std::optional<link::HelloReply> driver_;
  std::uint8_t seq_ = 0;
  std::uint32_t nonce_ = 100;
  std::uint32_t token_ = 5000;
  bool alive_ = false;
  Duration alive_at_;
};

/// All the claims, as sections of the calling test case: it is run anew, with a new wire, for each.
void hold(Wire& wire);

} // namespace conversation
