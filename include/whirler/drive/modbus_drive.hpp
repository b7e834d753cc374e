// An industrial drive on a Modbus line, by the user's description of it (modbus/description.hpp).
//
// Such a drive holds no program, so the program is walked here and the drive is told the target:
//
//   cycle:  write target ─> read speed ─> read fault ─> read status ─> report ─> [keep_alive] ─┐
//     ^────────────────────────────────────────────────────────────────────────────────────────┘
//
// The next cycle starts only when the run's loop has digested the last report and said so
// (`keep_alive`). So what feeds the drive's dead-man is the loop itself, never a timer beside it: a
// loop that hangs is silent on the line, and the drive stops by itself.
//
// A drive with a slope of its own is given it, and the goal of each step; else the target is led
// along the ramp, a step a cycle.
//
// A stop is one write ahead of everything (rtu_master.hpp says how far ahead): the target down the
// stop ramp, and at its end the description's `stop`. A cut is the description's `cut`. Neither is
// believed: the speed is read back, and what has not worked is sent again every half second until
// the drive, and the tach where there is one, show that nothing turns.
//
// `running`. Where the description has a word for it, a stop is done only when that word says so:
// else it is told again, then cut, and the run says that the drive still runs.
//
// Silence. Whatever kept this program from running (a laptop asleep, a stopped process), a drive
// that nobody spoke to for longer than its dead-man has stopped by itself, and many start again at
// the next word. So such a silence ends the run with a cut, counted by a clock that goes on while
// the computer sleeps.
//
// Standstill. An encoder's zero is standstill. A drive without one guesses its speed from currents;
// once its output is off it reads zero while the plate still coasts. So its zero counts only if it
// was seen while the drive still held the motor, at the end of a stop ramp; after a cut nobody
// knows, and the run says so.
#pragma once

#include "whirler/drive/drive.hpp"
#include "whirler/drive/rtu_master.hpp"
#include "whirler/drive/tach_line.hpp"
#include "whirler/modbus/description.hpp"
#include "whirler/plant/program.hpp"

#include <boost/asio/io_context.hpp>

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace whirler::drive {

struct ModbusSetup {
  modbus::Description description;
  int unit = 1;
  bool counterclockwise = false; ///< the machine's direction
  std::string port_name;
};

/// Where the drive is, and the tach beside it if there is one.
struct ModbusPlace {
  ModbusSetup setup;
  LineFormat line;
  std::string tach_port; ///< empty: no tach
  int tach_baud = 500000;
};

/// What one cycle read.
struct ModbusReading {
  Speed speed; ///< positive in the direction that was asked for, where the drive says a sign
  std::uint16_t fault_word = 0;
  std::optional<std::uint16_t> fault_code;
  bool running = true; ///< as far as the description can tell
};

/// What the proof of the stop and of the dead-man saw.
struct DeadManProof {
  Duration stop_to_rest; ///< from the stop's write to standstill
  Speed before;          ///< the speed at which the line went silent
  Duration silence;      ///< how long nobody spoke
  Speed after;           ///< the first reading after it
  Duration to_rest;      ///< from the line's silence to standstill
};

class ModbusDrive final : public Drive {
 public:
  /// `tach` may be null: then nothing here knows when a mark passes.
  ModbusDrive(boost::asio::io_context& context, SerialPort port, const LineFormat& line,
              ModbusSetup setup, std::unique_ptr<TachLine> tach);
  /// Commands the motor off at once if it may still be turning under this object's orders.
  ~ModbusDrive() override;

  [[nodiscard]] Result<Identity> greet(Listener& listener, Duration patience,
                                       const std::function<bool()>& give_up) override;
  void stop_listening() override { listener_ = nullptr; }
  [[nodiscard]] Outcome start_program(const Program& program) override;
  void keep_alive() override;
  void command_stop() override;
  void command_cut() override;
  void repeat_stop() override;
  /// Long enough for every retry, where the drive stops by itself; where it does not, no longer
  /// than with any other drive.
  [[nodiscard]] Duration longest_silence() const override;

  /// Turns the bare hub at `speed` and stops it by the description's `stop`; turns it again, says
  /// nothing for longer than the drive's time, and sees whether it has stopped by itself. Faults:
  /// ended_early, it keeps turning (and is cut), or somebody gave up; link and input as above.
  /// After `greet`.
  [[nodiscard]] Result<DeadManProof> prove_dead_man(Speed speed, Ramp slope,
                                                    const std::function<bool()>& give_up);
  [[nodiscard]] const LineCounts& line_counts() const { return master_.counts(); }

 private:
  using WallClock = std::chrono::steady_clock;
  using Answer = Result<std::vector<std::uint16_t>>;
  enum class Phase { resting, starting, program, ending, off, cutting };

  /// What it has seen of its line and of what it was told: modbus_watch.hpp.
  struct Watch;

  // Questions.
  [[nodiscard]] std::uint8_t unit() const { return static_cast<std::uint8_t>(setup_.unit); }
  [[nodiscard]] modbus::Request read(const modbus::Cell& cell) const;
  [[nodiscard]] modbus::Request write(const modbus::Cell& cell,
                                      std::vector<std::uint16_t> words) const;
  [[nodiscard]] modbus::Request write(const modbus::WriteStep& step) const;
  [[nodiscard]] Result<modbus::Request> target_write(Speed speed) const;
  /// Asks and serves the io_context until it is answered.
  [[nodiscard]] Answer ask_now(const modbus::Request& request);
  [[nodiscard]] Outcome tell_now(const modbus::Request& request);
  [[nodiscard]] Outcome run_now(const modbus::Sequence& sequence, const std::string& doing);
  [[nodiscard]] Outcome wait_now(const modbus::WaitStep& step, const std::string& doing);
  [[nodiscard]] Result<ModbusReading> read_now();
  bool serve_until(const std::function<bool()>& done, WallClock::duration patience,
                   const std::function<bool()>& give_up = {});

  // Set-up and start.
  [[nodiscard]] std::optional<Fault> greet_tach(Duration patience,
                                                const std::function<bool()>& give_up);
  [[nodiscard]] Identity identity() const;
  /// Times its answers by reading, before anything turns. A fault where the cycle is too long.
  [[nodiscard]] Outcome time_cycle();
  [[nodiscard]] Outcome set_dead_man();
  [[nodiscard]] Outcome clear_faults();
  [[nodiscard]] Outcome set_slopes(Ramp up, Ramp down);
  [[nodiscard]] Outcome prepare(Ramp slope);
  [[nodiscard]] Outcome refuse_slopes(const Program& program) const;
  [[nodiscard]] Outcome begin_turning();

  [[nodiscard]] Fault cut_for(Fault fault);
  [[nodiscard]] Result<Speed> bring_up(Speed speed, Ramp slope,
                                       const std::function<bool()>& give_up);
  /// None while it goes on; why the hub must not go on turning.
  [[nodiscard]] std::optional<Fault> off_speed(Speed seen, Speed asked);
  /// Prepared, started and brought up; off again where that fails.
  [[nodiscard]] Result<Speed> turn_hub(Speed speed, Ramp slope,
                                       const std::function<bool()>& give_up);
  [[nodiscard]] Result<Duration> see_it_obey(Speed before, const std::function<bool()>& give_up);
  [[nodiscard]] Outcome await_rest(WallClock::time_point since_when, const std::string& next,
                                   const std::function<bool()>& give_up);
  [[nodiscard]] Outcome see_it_let_go(const std::function<bool()>& give_up);
  [[nodiscard]] Result<DeadManProof> see_it_stop(DeadManProof proof,
                                                 const std::function<bool()>& give_up);
  [[nodiscard]] Outcome see_it_slow(Speed before, Speed first, Duration silence,
                                    const std::function<bool()>& give_up);
  [[nodiscard]] Fault operators_end();

  // The cycle.
  void begin_cycle();
  void read_speed();
  void read_fault();
  void read_code();
  void read_status();
  void take_status(std::uint16_t word);
  void digest();
  /// Asks, and goes on with the words; a refusal ends the cycle and becomes news, silence the line.
  void go_on(const modbus::Request& request,
             std::function<void(const std::vector<std::uint16_t>&)> then);
  void walk();
  /// The longest that nobody has spoken on the line since the start, longer than the drive allows.
  [[nodiscard]] std::optional<Duration> was_silent() const;
  /// Writes that make the drive's slopes these, where they are not already (or `always`).
  [[nodiscard]] std::vector<modbus::Request> slope_writes(Ramp up, Ramp down, bool always);
  void follow_slope();
  [[nodiscard]] Speed goal() const;
  void end_program();
  void run_writes(modbus::Sequence sequence, std::size_t at, std::function<void()> then);
  void take_speed(const std::vector<std::uint16_t>& words);

  // What it means.
  [[nodiscard]] Report report() const;
  [[nodiscard]] Motion motion() const;
  void judge(Report& report);
  void judge_speed(Report& report);
  void judge_silence(Report& report);
  void judge_stop(Report& report);
  [[nodiscard]] bool too_fast(Speed seen);
  /// The description has a word for it, and it still says so.
  [[nodiscard]] bool says_running() const;
  void judge_tach(Report& report);
  void watch_rest();
  void lag(Report& report, bool astray, Duration most, run::Event event, const std::string& words);
  [[nodiscard]] bool at_rest() const;
  void send_again();
  [[nodiscard]] const modbus::Sequence& cut_sequence() const;
  void send_pending();
  void on_lost(const Fault& fault);
  [[nodiscard]] Speed rest_speed() const;
  [[nodiscard]] bool tach_at_rest() const;

  boost::asio::io_context& context_;
  ModbusSetup setup_;
  LineFormat line_;
  std::unique_ptr<TachLine> tach_;
  RtuMaster master_;
  Listener* listener_ = nullptr;
  Phase phase_ = Phase::resting;
  plant::ProgramWalk walk_;
  std::vector<link::Segment> segments_;
  Ramp stop_slope_;
  Speed ceiling_;
  std::optional<Ramp> slope_up_; ///< as the drive's registers hold them
  std::optional<Ramp> slope_down_;
  WallClock::time_point made_ = WallClock::now();
  WallClock::time_point walked_{};
  ModbusReading reading_;
  bool awaiting_ = false;     ///< a report is out, and the loop has not said `keep_alive`
  bool started_ = false;      ///< something was started, and nothing has shown it at rest
  bool stop_asked_ = false;   ///< else the program was walked to its end
  bool stop_pending_ = false; ///< asked for, not yet acknowledged
  int rest_seen_ = 0;         ///< readings at rest, one after another
  bool rest_under_power_ = false;
  int fast_seen_ = 0;
  int idle_seen_ = 0;
  std::optional<WallClock::time_point> astray_since_;
  std::optional<WallClock::time_point> tach_astray_since_;
  std::optional<WallClock::time_point> walk_over_since_;
  WallClock::time_point last_cut_{};
  std::optional<std::string> refused_; ///< an exception reply in the cycle
  std::optional<Fault> lost_;
  std::unique_ptr<Watch> watch_;
};

/// Opens its ports. `fresh` as for LinkDrive's nonce. Faults (link): as SerialPort.
[[nodiscard]] Result<std::unique_ptr<ModbusDrive>>
open_modbus(boost::asio::io_context& context, const ModbusPlace& place, std::uint32_t fresh);

} // namespace whirler::drive
