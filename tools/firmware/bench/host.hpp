// A host in lock-step with the chip: it speaks through this project's own room `link`, on the
// chip's clock, and remembers all that it heard.
#pragma once

#include "chip.hpp"
#include "serial_line.hpp"

#include "whirler/link/frame.hpp"
#include "whirler/link/messages.hpp"
#include "whirler/link/pulse_unwrapper.hpp"

#include <optional>
#include <span>
#include <variant>
#include <vector>

namespace bench {

struct HeardStatus {
  Cycles at = 0;
  whirler::link::Status status;
};

using Answer = std::variant<whirler::link::Ack, whirler::link::Nak>;

class Host {
 public:
  Host(Chip& chip, SerialLine& line);

  /// HELLO, repeated for 5 s; none when nobody answers.
  std::optional<whirler::link::HelloReply> greet();
  /// Sends, waits for the answer, asks again up to 5 times; none when nobody answers.
  std::optional<Answer> command(const whirler::link::HostMessage& message);
  /// Clear, the segments, start. The first refusal, or the acknowledgement of the start; none when
  /// nobody answers.
  std::optional<Answer> start(std::span<const whirler::link::Segment> segments,
                              const whirler::link::Start& start);

  /// Keep-alives every 20 ms naming the newest report, as long as they are wanted.
  void keep_alive(bool wanted) { alive_ = wanted; }
  /// While frozen it names the same old report for ever.
  void freeze(bool frozen) { frozen_ = frozen; }
  /// The stop sequence, once.
  void send_stop(whirler::link::StopKind kind);
  void send_raw(std::span<const std::uint8_t> bytes) { line_.send(bytes); }

  /// Runs until the newest report satisfies `wanted`, at most so long. False: it never did.
  template <class Predicate>
  bool run_until(Predicate&& wanted, Cycles patience) {
    const Cycles end = chip_.now() + patience;
    while (chip_.now() < end) {
      if (!statuses_.empty() && wanted(statuses_.back().status))
        return true;
      chip_.run_for(kCyclesPerMs / 4);
    }
    return false;
  }

  [[nodiscard]] const std::vector<HeardStatus>& statuses() const { return statuses_; }
  [[nodiscard]] const whirler::link::Status& last() const { return statuses_.back().status; }
  /// Ticks of all pulses heard, unwrapped, and their marks.
  [[nodiscard]] const std::vector<std::int64_t>& ticks() const { return ticks_; }
  [[nodiscard]] const std::vector<std::int16_t>& marks() const { return marks_; }
  [[nodiscard]] whirler::link::PulseLosses losses() const;
  [[nodiscard]] const std::vector<whirler::link::Nak>& refusals() const { return refusals_; }
  [[nodiscard]] const whirler::link::Decoder& decoder() const { return decoder_; }
  [[nodiscard]] const std::vector<std::uint8_t>& received() const { return received_; }

 private:
  void take(std::uint8_t byte);
  void take(const whirler::link::DriverMessage& message);
  void beat();
  std::uint8_t send(const whirler::link::HostMessage& message);

  Chip& chip_;
  SerialLine& line_;
  whirler::link::Decoder decoder_;
  std::optional<whirler::link::HelloReply> reply_;
  std::optional<whirler::link::PulseUnwrapper> unwrapper_;
  std::vector<HeardStatus> statuses_;
  std::vector<std::int64_t> ticks_;
  std::vector<std::int16_t> marks_;
  std::vector<whirler::link::Nak> refusals_;
  std::vector<std::uint8_t> received_;
  std::optional<Answer> answer_;
  std::uint8_t seq_ = 0;
  std::uint32_t nonce_ = 1;
  bool alive_ = false;
  bool frozen_ = false;
  std::uint16_t named_ = 0;
};

} // namespace bench
