// The guided job of one board while it goes: what is asked, what is run, what is kept.
//
//   board_job.cpp      the order of the steps, and the answer
//   board_side.cpp     one side: mount, pour, run, and what to do with what it left
//   board_earlier.cpp  what an earlier go of the work left: its films, its weight, other programs
//   board_finish.cpp   weighing, film by weight, lamp, lesson
#pragma once

#include "board_films.hpp"
#include "board_notes.hpp"
#include "board_plan.hpp"
#include "board_weighings.hpp"
#include "coat_words.hpp"
#include "prompter.hpp"
#include "run_view.hpp"
#include "side_story.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

class BoardJob {
 public:
  BoardJob(const CoatWords& words, const Context& context, BoardPlan plan, LoadedRun run,
           notebook::Notebook notebook);

  /// All of it; the program's exit status.
  int go();

 private:
  [[nodiscard]] Outcome work();
  void say_before();
  void say_after() const;
  void say_left_off() const;
  void say_lying() const;

  [[nodiscard]] Outcome take_up();
  [[nodiscard]] Outcome check_films_named() const;
  void say_other_programs();
  [[nodiscard]] std::vector<SideStory> on_plate() const;
  [[nodiscard]] Outcome check_masses_ahead() const;
  [[nodiscard]] std::string kept_text() const;
  [[nodiscard]] std::optional<std::vector<std::string>> weighed_with(Mass before) const;
  [[nodiscard]] Result<char> mount_over(SideStory& side, bool flipped);
  [[nodiscard]] std::optional<std::string> mount_ahead(const SideStory& side) const;
  [[nodiscard]] Outcome ask_whether_washed(SideStory& side);
  [[nodiscard]] Outcome ask_what_was_weighed();
  [[nodiscard]] Result<bool> ask_whether_weighed(SideStory& side, std::vector<std::string>& with);

  [[nodiscard]] Outcome coat_side(SideStory& side, bool flipped);
  [[nodiscard]] Result<char> mount(const SideStory& side, bool flipped) const;
  [[nodiscard]] Result<char> pour_again(const SideStory& side, bool washed) const;
  [[nodiscard]] RunWords words_of_run(const SideStory& side) const;
  [[nodiscard]] Outcome run_once(SideStory& side);
  void take_in(SideStory& side, const DoneRun& result);
  void say_result(const SideStory& side, const CoatReading& reading) const;
  [[nodiscard]] Result<char> ask_after(const SideStory& side);
  [[nodiscard]] std::optional<std::string> answer_ahead(const SideStory& side);
  [[nodiscard]] Outcome keep_fate(const SideStory& side, Fate fate);
  [[nodiscard]] Outcome cancel(SideStory& side);
  [[nodiscard]] Outcome wash(SideStory& side);

  [[nodiscard]] Outcome weigh(const char* when, const std::string& text,
                              const std::optional<std::string>& ahead, std::optional<Mass>& into);
  [[nodiscard]] Outcome finish();
  [[nodiscard]] std::string how_to_weigh() const;
  [[nodiscard]] std::optional<Fault> doubt_of_mass(Mass mass) const;
  [[nodiscard]] std::optional<Fault> doubt_of_film(Mass after) const;
  [[nodiscard]] Outcome weigh_after();
  [[nodiscard]] Outcome take_in_weight();
  [[nodiscard]] Result<bool> is_sure_of(Length film);
  [[nodiscard]] std::optional<std::string> no_lesson() const;
  [[nodiscard]] Outcome keep_film_by_weight();
  [[nodiscard]] Outcome expose(SideStory& side);
  [[nodiscard]] Outcome offer_teaching();
  [[nodiscard]] Json json(const Outcome& outcome) const;

  const CoatWords& words_;
  const Context& context_;
  BoardPlan plan_;
  LoadedRun run_;
  BoardNotes notes_;
  Prompter prompter_;
  std::vector<std::string> recoats_; ///< flags not yet used
  std::optional<std::string> early_; ///< likewise
  std::vector<std::string> repeats_;
  std::vector<SideStory> sides_;
  std::vector<SideStory> others_;   ///< of sides that the plan does not name
  std::vector<Weighing> weighings_; ///< before this go of the work
  std::optional<Weighing> kept_;    ///< of them, the bare plate that nobody weighed coated yet
  std::vector<std::int64_t> said_running_;
  std::optional<Mass> before_;
  std::optional<Mass> after_;
  std::optional<Mass> digit_;                    ///< the finest that was typed of either
  std::optional<std::vector<std::string>> with_; ///< pours on the plate at `before_`, if known
  std::vector<SideStory> gained_;                ///< whose films came after it
  std::optional<Length> by_weight_;
  std::string doubt_;         ///< of a film by weight that is outside the interval
  double unsure_share_ = 0.0; ///< of it, for the scales' last digit
  std::string no_seconds_;    ///< why, as it was said last
  bool taught_ = false;
  int runs_ = 0;
  bool refused_ = false; ///< the last run was not started
};

} // namespace whirler::cli
