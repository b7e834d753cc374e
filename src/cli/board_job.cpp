#include "board_job.hpp"

#include "run_job.hpp"

#include <algorithm>
#include <iostream>

namespace whirler::cli {

BoardJob::BoardJob(const CoatWords& words, const Context& context, BoardPlan plan, LoadedRun run,
                   notebook::Notebook notebook)
    : words_(words), context_(context), plan_(std::move(plan)), run_(std::move(run)),
      notes_(std::move(notebook), plan_.board.name, run_.resist_name), prompter_(words.yes),
      recoats_(words.recoat), early_(words.after_early_end), repeats_(words.repeat) {
  for (const std::string& name : plan_.board.sides) {
    sides_.emplace_back();
    sides_.back().name = name;
    sides_.back().resist = run_.resist_name;
  }
}

void BoardJob::say_lying() const {
  for (const SideStory& side : on_plate())
    context_.say("note     " + (side.name.empty() ? plan_.board.name : side.name) + ": " +
                 film_age(side, wall_clock()));
}

void BoardJob::say_before() {
  say_plan(context_, plan_);
  const auto& said = plan_.cautions();
  for (const std::string& caution : run_.cautions)
    if (std::count(said.begin(), said.end(), caution) == 0)
      context_.say("caution  " + caution);
  say_lying();
  say_other_programs();
  // Order of the steps around a coat [common practice, no source].
  context_.say("before   clean copper: degrease, rinse until water runs off as one film, dry; "
               "gloves from here on, yellow light only");
}

void BoardJob::say_after() const {
  context_.say("after    dry each side as the resist's own sheet says; keep the board from white "
               "light and dust until it is exposed");
  say_lying();
}

/// What a person has in hand who ended the work, and how the rest is done another time.
void BoardJob::say_left_off() const {
  const auto is_done = [](const SideStory& side) {
    return side.state == SideState::coated || side.state == SideState::cancelled ||
           side.state == SideState::kept;
  };
  if (std::none_of(sides_.begin(), sides_.end(), is_wetted))
    return;
  say_after();
  if (std::all_of(sides_.begin(), sides_.end(), is_done))
    return;
  std::string words = words_.board.file.empty() ? "the same words, and" : "whirler coat ";
  words += words_.board.file;
  for (const SideStory& side : sides_)
    if (is_done(side))
      words += " --cancel '" + side.name + "'";
  context_.say("go on    " + words);
}

Outcome BoardJob::work() {
  if (const auto ok = take_up(); !ok)
    return ok;
  say_before();
  if (const auto ok = weigh("before", how_to_weigh(), words_.weighed_before, before_); !ok)
    return ok;
  bool touched = false;
  for (SideStory& side : sides_) {
    if (const auto ok = coat_side(side, touched); !ok)
      return ok;
    if (side.state == SideState::ended_early && words_.yes)
      break; // nobody has looked: nothing more is started
    touched = touched || !side.runs.empty() || !side.pours.empty();
  }
  return finish();
}

Json BoardJob::json(const Outcome& outcome) const {
  const auto grams_or_null = [](const std::optional<Mass>& mass) {
    return mass ? rounded(mass->g()) : Json(nullptr);
  };
  Json sides = Json::array();
  for (const SideStory& side : sides_)
    sides.push_back(to_json(side));
  Json gained = Json::array();
  for (const SideStory& side : gained_)
    gained.push_back(side.name);
  Json json{{"board", plan_.board.name},
            {"plan", plan_json(plan_)},
            {"weighed",
             {{"before_g", grams_or_null(before_)},
              {"after_g", grams_or_null(after_)},
              {"thickness_um", by_weight_ ? rounded(by_weight_->um()) : Json(nullptr)},
              {"unsure_share", by_weight_ ? rounded(unsure_share_) : Json(nullptr)},
              {"sides", gained},
              {"doubt", doubt_.empty() ? Json(nullptr) : Json(doubt_)}}},
            {"sides", sides},
            {"taught", taught_}};
  if (!outcome)
    json["fault"] = to_json(outcome.fault());
  return json;
}

int BoardJob::go() {
  const auto outcome = work();
  if (!outcome)
    std::cerr << "whirler: " << to_text(outcome.fault()) << '\n';
  if (!outcome && outcome.fault().kind == FaultKind::ended_early)
    say_left_off();
  context_.answer(json(outcome));
  if (!outcome)
    return exit_status(outcome.fault().kind);
  const auto early = std::find_if(sides_.begin(), sides_.end(), [](const SideStory& side) {
    return side.state == SideState::ended_early;
  });
  return early == sides_.end() ? static_cast<int>(kDone) : early->status;
}

} // namespace whirler::cli
