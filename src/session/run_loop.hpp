// The loop behind `execute`: turns what happens into events, and the state machine's actions into
// commands. One object a run.
#pragma once

#include "dwell_figures.hpp"
#include "whirler/drive/clock_with_sleep.hpp"
#include "whirler/profile/timeline.hpp"
#include "whirler/session/run_session.hpp"
#include "whirler/session/turn_speed.hpp"

#include <chrono>
#include <optional>
#include <string>

namespace whirler::session {

class RunLoop final : public drive::Listener {
 public:
  RunLoop(drive::Drive& drive, const RunOrder& order, const profile::Timeline& timeline,
          const Observer& observer);

  // ---- before the start
  void greeted(const drive::Identity& identity);
  void accept_plan() { handle(run::Event::plan_accepted); }
  void record_into(Record* record) { record_ = record; }
  /// Commands the start; returns when the driver has answered or the run is over.
  [[nodiscard]] std::optional<Fault> start();

  // ---- what happens
  void on_signal(int number);
  void on_tick();
  void on_report(const drive::Report& report) override;
  void on_pulses(const drive::PulseBatch& batch) override;
  void on_lost(const Fault& fault) override;

  // ---- what came of it
  [[nodiscard]] bool is_over() const { return run_.state == run::State::done; }
  [[nodiscard]] bool asked_to_end() const { return signals_ > 0; }
  [[nodiscard]] Summary summary() const;

 private:
  using WallClock = std::chrono::steady_clock;

  void handle(run::Event event, const std::string& cause = {});
  void act(run::Action action);
  void feed_watch(const drive::PulseBatch& batch);
  void follow(const drive::Report& report);
  void follow_program(const drive::Report& report);
  void watch_speed(const drive::Report& report);
  void watch_jitter(const drive::Report& report);
  void compare_clocks(const drive::Report& report);
  void show(bool now);
  void tell(const std::string& text);
  [[nodiscard]] Progress progress() const;
  [[nodiscard]] Duration now() const;
  [[nodiscard]] Duration since_start() const;
  [[nodiscard]] Duration silence() const; ///< of the driver, by the wall's clock
  [[nodiscard]] Speed speed() const;
  [[nodiscard]] bool under_way() const;
  void look_for_absence();
  void handle_heard(run::Event event, const std::string& cause);
  void wait_no_longer();
  [[nodiscard]] bool waits_for_standstill_only() const;
  void watch_blind_wait(const drive::Report& report);
  [[nodiscard]] std::optional<tach::LiveFigure> figure_to_show() const;

  drive::Drive& drive_;
  const RunOrder& order_;
  const profile::Timeline& timeline_;
  const Observer& observer_;
  Record* record_ = nullptr;
  run::Run run_;
  std::string cause_;
  int signals_ = 0;
  WallClock::time_point began_ = WallClock::now();
  WallClock::time_point heard_ = began_;
  WallClock::time_point shown_ = began_;
  Duration present_ = drive::clock_with_sleep(); ///< when this loop last ran
  std::optional<WallClock::time_point> reads_rest_since_;
  std::optional<drive::Report> report_;
  bool has_tach_ = true;
  bool own_clock_ = true;
  std::optional<TurnSpeed> turn_speed_;
  std::optional<tach::LiveWatch> watch_;
  DwellFigures dwells_;
  std::optional<Duration> spun_since_; ///< the drive's clock when it had the program
  Duration spun_;                      ///< the drive's, since then
  std::optional<Duration> started_;    ///< this computer's clock, in a hurry the drive's
  std::optional<Duration> rest_;
  bool handing_over_ = false;             ///< the program, to the drive
  bool begun_ = false;                    ///< the drive has accepted the start
  std::optional<Duration> program_began_; ///< the drive's clock
  std::optional<Duration> dwell_began_;   ///< the drive's clock
  Speed ceiling_;
  Speed top_speed_;
  std::optional<Speed> peak_error_;
  std::size_t steps_ = 0;
  int over_ceiling_ = 0; ///< reports in a row
  struct ClockPair {
    Duration ours;
    Duration drives;
  };
  std::optional<ClockPair> first_clocks_;
  std::optional<ClockPair> last_clocks_;
  std::uint64_t pulses_ = 0;
  std::uint64_t pulses_lost_ = 0;
};

} // namespace whirler::session
