// The emulated ATmega328P, with everything that its emulator gets wrong put right on this side.
//
// Time is the chip's own: cycles at 16 MHz since it was made, never reset. Nothing moves but by
// run_until(). What the bench does to the chip happens in events, each at its exact cycle.
//
// What the emulator (libsimavr 1.6) gets wrong, and what stands here for it:
//   - events land up to one instruction late: an event runs with the chip's cycle set to its own;
//   - a PORT write overwrites inputs that have pull-ups, PIN reads 0 after a reset: drive() sets
//   the
//     external level too, and every level is set again after a reset;
//   - a low external interrupt starts a poll that never ends: strict level triggering is off;
//   - a reset wipes every timer of the emulator, this bench's too: they are registered anew;
//   - the compare output's pin glitches at PORT writes: its level is taken from the compare events
//   and
//     the mode bits at that moment;
//   - the UART counts 11 bits a byte and buffers 64: the byte time is set to 10 bits, and what the
//     chip's own three bytes could not hold is dropped and counted;
//   - interrupt entry costs nothing: 4 cycles are added where interrupt times are stated.
//
// This file and all of the bench link libsimavr (GPL-3): a test program of its own. Neither whirler
// nor the firmware includes or links anything of it.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

struct avr_t;
struct avr_uart_t;

namespace bench {

using Cycles = std::uint64_t;
inline constexpr Cycles kCyclesPerSecond = 16'000'000;
inline constexpr Cycles kCyclesPerMs = kCyclesPerSecond / 1000;

[[nodiscard]] constexpr double to_ms(Cycles cycles) {
  return static_cast<double>(cycles) / static_cast<double>(kCyclesPerMs);
}
[[nodiscard]] constexpr double to_s(Cycles cycles) {
  return static_cast<double>(cycles) / static_cast<double>(kCyclesPerSecond);
}
[[nodiscard]] constexpr Cycles ms(double value) {
  return static_cast<Cycles>(value * static_cast<double>(kCyclesPerMs) + 0.5);
}

/// Why a chip is reset; the bits of MCUSR.
enum class ResetCause : std::uint8_t { power_on = 1, external = 2, brown_out = 4, watchdog = 8 };

struct Pin {
  char port;
  int bit;
};
inline constexpr Pin kTachPin{'B', 0};
inline constexpr Pin kServoPin{'B', 1};
inline constexpr Pin kLidPin{'D', 2};
inline constexpr Pin kIndexPin{'D', 3};
inline constexpr Pin kEnablePin{'D', 4};
inline constexpr Pin kSupplyPin{'D', 5};

/// Longest time of an interrupt, from its entry to the instruction after its return.
struct InterruptTime {
  std::string name;
  Cycles longest = 0;
  std::uint64_t count = 0;
};

class Chip {
 public:
  /// Loads the firmware's ELF and powers up; throws std::runtime_error where it cannot.
  explicit Chip(const std::string& elf);
  ~Chip();
  Chip(const Chip&) = delete;
  Chip& operator=(const Chip&) = delete;

  [[nodiscard]] Cycles now() const;
  void run_until(Cycles when);
  void run_for(Cycles span) { run_until(now() + span); }

  /// Calls `event` at exactly that cycle (at once where it is past).
  void at(Cycles when, std::function<void()> event);

  /// Level of an input from outside, from now on.
  void drive(Pin pin, bool high);
  /// Level of an output as a pull-down on the board makes it: low while the chip does not drive it.
  [[nodiscard]] bool output(Pin pin) const;
  /// Called at every change of the enable output, with its new level, in its own cycle.
  void on_enable(std::function<void(bool)> listener) { enable_listener_ = std::move(listener); }
  /// Called at the end of every servo pulse with its width in cycles.
  void on_servo_pulse(std::function<void(Cycles)> listener) { servo_ = std::move(listener); }
  /// Share of the period for which the PWM output is high; 0 while it is off.
  [[nodiscard]] double pwm_duty() const;

  /// A byte begins to arrive (its start bit falls) now. False: the chip's receiver overran.
  bool receive(std::uint8_t byte);
  /// Called when the last bit of a byte that the chip sent has gone out.
  void on_sent(std::function<void(std::uint8_t)> listener) { sent_ = std::move(listener); }
  [[nodiscard]] std::uint64_t overruns() const { return overruns_; }

  /// Resets the chip now; not from inside an event.
  void reset(ResetCause cause);
  /// Holds the chip in reset (pins float) until release().
  void hold_in_reset();
  void release(ResetCause cause);
  /// Puts code at the boot section and makes resets go there.
  void load_boot_loader(const std::string& elf);
  [[nodiscard]] std::uint64_t resets() const { return resets_; }
  [[nodiscard]] std::optional<ResetCause> last_reset() const { return last_reset_; }
  /// From its next sleep on, until a reset, the main program goes no further: a hang. With or
  /// without its interrupts.
  void hang(bool interrupts_too);

  /// Writes a 16-bit variable of the firmware.
  void poke16(const std::string& variable, std::uint16_t value);

  [[nodiscard]] std::vector<InterruptTime> interrupt_times() const;
  /// Bytes of stack that were ever used, and bytes that there are.
  [[nodiscard]] std::size_t stack_used() const;
  [[nodiscard]] std::size_t stack_size() const;
  /// Bytes of flash and of variables.
  [[nodiscard]] std::size_t flash_used() const { return flash_used_; }
  [[nodiscard]] std::size_t variables() const;

 private:
  friend struct Hooks; // the emulator's callbacks

  void load(const std::string& elf);
  void watch();
  void arm();
  void run_due(Cycles when);
  void recover_from_reset();
  void set_again(Pin pin);
  void keep_byte_time();
  void enable_changed();
  void servo_edge();
  void byte_written(std::uint8_t byte);
  [[nodiscard]] std::uint32_t symbol(const std::string& name) const;

  avr_t* avr_ = nullptr;
  avr_uart_t* uart_ = nullptr;
  void (*chip_reset_)(avr_t*) = nullptr; ///< the emulator's own
  std::map<std::string, std::uint32_t> symbols_;
  std::multimap<Cycles, std::function<void()>> events_;
  std::map<std::pair<char, int>, bool> driven_;
  std::map<int, InterruptTime> interrupts_;
  std::map<int, Cycles> interrupt_began_;
  struct Watched {
    Chip* chip;
    int vector;
  };
  std::deque<Watched> watched_; ///< the emulator holds pointers to these
  std::function<void(bool)> enable_listener_;
  std::function<void(Cycles)> servo_;
  std::function<void(std::uint8_t)> sent_;
  bool enable_level_ = false;
  std::optional<Cycles> servo_rose_;
  Cycles line_free_ = 0;
  bool was_reset_ = false;
  bool held_ = false;
  std::optional<std::uint32_t> hung_at_; ///< address in flash of the opcode that was replaced
  std::uint64_t resets_ = 0;
  std::optional<ResetCause> last_reset_;
  std::uint64_t overruns_ = 0;
  std::size_t flash_used_ = 0;
};

} // namespace bench
