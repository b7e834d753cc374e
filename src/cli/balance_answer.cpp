#include "balance_answer.hpp"

#include "cure_lines.hpp"
#include "placed_values.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

std::string g_mm(Unbalance unbalance) { return number_text(unbalance.g_mm()) + " g mm"; }
std::string place(const balance::PlacedMass& mass) {
  return number_text(mass.mass.g()) + " g at " + angle_text(mass.at) + ", radius " +
         number_text(mass.radius.mm()) + " mm";
}

balance::PlacedUnbalance missed(const BalanceAnswer& answer) {
  return answer.shares ? answer.shares->left : balance::PlacedUnbalance{};
}

/// What will be left: errors of the readings, and what the steps of the masses miss.
struct Rest {
  Unbalance expected;
  std::optional<Unbalance> bound_95; ///< none where the trial was too weak to say
};

Rest rest_of(const BalanceAnswer& answer) {
  const double missed_kg_m = missed(answer).size.kg_m();
  const balance::Correction& correction = answer.found->correction;
  Rest rest{kilogram_metres(std::hypot(correction.spread.rms().kg_m(), missed_kg_m)), {}};
  if (correction.bound_95)
    rest.bound_95 = kilogram_metres(correction.bound_95->kg_m() + missed_kg_m);
  return rest;
}

void say_allowed(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const Allowed& allowed = *answer.allowed;
  const double offset_um = allowed.unbalance.kg_m() / allowed.mass.kg() * 1e6;
  lines.push_back(
      "Allowed: " + g_mm(allowed.unbalance) + " (grade G " + number_text(allowed.grade.mm_per_s()) +
      ", " + number_text(allowed.speed.rpm(), 5) + " rpm, " + number_text(allowed.mass.g(), 4) +
      " g turning: centre of mass " + number_text(offset_um) + " um off)");
}

/// The coarsest step of 1, 2 or 5 in a decade, below the one asked for, that leaves less than a
/// tenth of what is wanted.
std::optional<Mass> step_that_serves(const balance::PlacedUnbalance& wanted,
                                     const std::vector<balance::Place>& places,
                                     balance::PlaceLimits limits) {
  constexpr int kDecades = 6;
  constexpr double kMostLeft = 0.1;
  const int highest = static_cast<int>(std::floor(std::log10(limits.step->g())));
  for (int decade = highest; decade > highest - kDecades; --decade)
    for (const double digit : {5.0, 2.0, 1.0}) {
      const Mass step = grams(digit * std::pow(10.0, decade));
      if (step >= *limits.step)
        continue;
      limits.step = step;
      const auto shares = balance::share_out(wanted, places, limits);
      if (shares && shares->left.size < kMostLeft * wanted.size)
        return step;
    }
  return std::nullopt;
}

/// The trial's answer is lost in what is not known: any mass that is named is a guess.
bool nobody_can_say(const BalanceAnswer& answer) { return !answer.found->correction.bound_95; }

/// What goes before the mass in the line that names it.
std::string add_words(const BalanceAnswer& answer) {
  if (nobody_can_say(answer))
    return "By these readings alone it would be ";
  return keeps_already(answer) ? "To better it still, add " : "Add ";
}

void say_holes(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  if (answer.no_share)
    lines.push_back("  The holes cannot take it: " + answer.no_share->what + "; " +
                    answer.no_share->next);
  if (!answer.shares || answer.shares->masses.empty())
    return;
  lines.back() += "; that is, in the holes:";
  for (const balance::PlacedMass& mass : answer.shares->masses)
    lines.push_back("  hole at " + number_text(mass.at.deg(), 4) +
                    " deg: " + number_text(mass.mass.g()) + " g");
}

void say_masses(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const Found& found = *answer.found;
  if (nobody_can_say(answer))
    lines.emplace_back("Repeat with a larger trial mass: this one changed the readings too little "
                       "to tell the correction");
  else if (keeps_already(answer))
    lines.emplace_back("The grade is kept already: no mass is needed");
  if (no_hole_takes_it(answer))
    say_no_hole(lines, answer);
  else
    lines.push_back(add_words(answer) + place(found.to_add));
  say_holes(lines, answer);
  lines.push_back("  (angles from the index mark, " + with_rotation(answer.plate) +
                  "; the trial mass counted as " +
                  (found.left_on ? "left on at " + angle_text(found.left_on->at) + ")"
                                 : std::string("taken off)")));
}

/// The readings of a balanced rotor would look the same: a bound is all that they tell.
void say_nothing_shown(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::Correction& correction = answer.found->correction;
  lines.push_back("Nothing to balance as far as these readings can tell: the unbalance is under " +
                  g_mm(*correction.at_most) + " in 95 of 100 (likeliest " +
                  g_mm(correction.unbalance.size) + ", heavy side at " +
                  angle_text(correction.unbalance.at) + ")");
  if (answer.allowed)
    lines.emplace_back(keeps_already(answer)
                           ? "The grade is kept already: no mass is needed"
                           : "That may be over the grade: a larger trial mass, a higher speed or "
                             "longer readings would tell");
}

std::string then_line(const BalanceAnswer& answer) {
  const Rest rest = rest_of(answer);
  if (!rest.bound_95)
    return "Then: nobody can say. The trial mass changed so little that any unbalance would fit";
  return "Then: about " + g_mm(rest.expected) + " left, under " + g_mm(*rest.bound_95) +
         " in 95 of 100" +
         (answer.noise_given ? ""
          : answer.guided
              ? ", if the machine answers as well as the best published"
              : ", if the readings are as good as the best published: --noise tells your own");
}

void say_unbalance(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::Correction& correction = answer.found->correction;
  const Rest rest = rest_of(answer);
  lines.push_back("Now: " + g_mm(correction.unbalance.size) + ", heavy side at " +
                  angle_text(correction.unbalance.at));
  lines.push_back(then_line(answer));
  if (!answer.allowed)
    return;
  const Unbalance allowed = answer.allowed->unbalance;
  if (keeps_already(answer))
    return; // said first
  if (rest.bound_95 && *rest.bound_95 <= allowed)
    lines.push_back("That keeps the grade");
  else if (answer.shares && rest.expected > allowed)
    lines.push_back("That will NOT keep the grade: share it out in smaller steps, or among more "
                    "holes, before a mass is fixed");
  else
    lines.push_back("That may not keep the grade: measure again with the mass on, and correct the "
                    "rest the same way");
}

std::string way(const BalanceAnswer& answer, Length by, Angle rotor) {
  const blank::Mounting& mounting = answer.plate.mounting;
  return way_text(answer.plate.blank->outline, mounting.turned_over, by,
                  blank::on_plate(rotor, mounting), " on the plate");
}

/// Whether the new hole of the last cure has material round it.
bool redrill_fits(const BalanceAnswer& answer) {
  const balance::Move& redrill = answer.cures->redrill;
  return new_hole_fits(*answer.plate.blank, redrill.by,
                       blank::on_plate(redrill.towards, answer.plate.mounting));
}

void say_plate(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::Cures& cures = *answer.cures;
  const blank::Mounting& mounting = answer.plate.mounting;
  if (mounting.turned_over)
    lines.push_back(turned_over_text(true));
  lines.push_back("The hole is off by " + number_text(cures.redrill.by.mm()) +
                  " mm: " + way(answer, cures.redrill.by, cures.shift.towards));
  const bool holes_fail = no_hole_takes_it(answer) || answer.no_share;
  const CureWords words{
      [&](Length by, Angle rotor) { return way(answer, by, rotor); },
      answer.plate.blank->hole.diameter,
      holes_fail ? "add the mass above, in one piece between the holes" : "add the mass above",
      "",
      ": how slow, --grade, --speed and --mass tell, or a --machine with a grade",
      keeps_already(answer) ? std::optional(answer.allowed->speed) : std::nullopt,
      answer.plate.machine ? std::optional(answer.plate.machine->limits.speed_min) : std::nullopt,
      redrill_fits(answer)};
  for (std::string& line : cure_lines(cures, words))
    lines.push_back(std::move(line));
}

std::vector<std::string> cautions(const BalanceAnswer& answer) {
  std::vector<std::string> cautions;
  if (answer.allowed && answer.plate.machine &&
      answer.allowed->speed > answer.plate.machine->limits.speed)
    cautions.push_back(number_text(answer.allowed->speed.rpm(), 5) +
                       " rpm is above the machine's limit of " +
                       number_text(answer.plate.machine->limits.speed.rpm(), 5) + " rpm");
  if (!answer.found)
    return cautions;
  const balance::Correction& correction = answer.found->correction;
  if (correction.response < balance::kWeakTrial && correction.shown)
    cautions.push_back("the trial mass changed little: repeat with a larger one, raised step by "
                       "step" +
                       (nobody_can_say(answer)
                            ? std::string{}
                            : " (" + number_text(0.5 * correction.mass.mass.g()) + " g at radius " +
                                  number_text(correction.mass.radius.mm()) +
                                  " mm would be ample)"));
  cautions.emplace_back("fix every mass so that it cannot fly off; run with the lid closed");
  return cautions;
}

Json shares_json(const BalanceAnswer& answer) {
  const balance::Shares& shares = *answer.shares;
  Json list = Json::array();
  for (const balance::PlacedMass& mass : shares.masses)
    list.push_back(to_json(mass));
  Json json{{"masses", list}, {"missed_g_mm", shares.left.size.g_mm()}};
  if (answer.finer_step)
    json["finer_step_g"] = answer.finer_step->g();
  return json;
}

void put_found(Json& json, const BalanceAnswer& answer) {
  const balance::Correction& correction = answer.found->correction;
  const Rest rest = rest_of(answer);
  json["correction"] = to_json(answer.found->to_add);
  json["residual"] = balance::predicted_rest(correction, missed(answer));
  json["residual_g_mm"] = {
      {"expected", rest.expected.g_mm()},
      {"bound_95", rest.bound_95 ? Json(rest.bound_95->g_mm()) : Json(nullptr)},
      {"from", answer.noise_given ? "noise" : "published_trials"}};
  json["unbalance"] = {{"g_mm", correction.unbalance.size.g_mm()},
                       {"angle_deg", correction.unbalance.at.deg()}};
  if (correction.at_most)
    json["unbalance"]["at_most_g_mm"] = correction.at_most->g_mm();
  json["unbalance"]["shown"] = correction.shown;
  if (answer.found->left_on)
    json["trial_left_on"] = to_json(*answer.found->left_on);
  json["trial_response"] =
      std::isfinite(correction.response) ? Json(correction.response) : Json(nullptr);
  if (answer.no_share)
    json["fault"] = to_json(*answer.no_share);
  if (answer.found->consistency)
    json["consistency"] = *answer.found->consistency;
  if (answer.shares)
    json["shares"] = shares_json(answer);
}

Json move_json(const BalanceAnswer& answer, const balance::Move& move) {
  const Angle plate = blank::on_plate(move.towards, answer.plate.mounting);
  return {{"by_mm", move.by.mm()},
          {"towards", blank::side_words(answer.plate.blank->outline, plate)},
          {"plate_deg", plate.deg()},
          {"rotor_deg", move.towards.deg()}};
}

} // namespace

bool no_hole_takes_it(const BalanceAnswer& answer) {
  return answer.shares && answer.shares->masses.empty() && answer.found->to_add.mass > Mass{};
}

void say_no_hole(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::PlacedMass& wanted = answer.found->to_add;
  lines.push_back("No hole takes a mass: " + number_text(wanted.mass.g()) + " g at " +
                  angle_text(wanted.at) + ", radius " + number_text(wanted.radius.mm()) +
                  " mm, would balance it, and half of one --step is more than any hole's share");
  lines.push_back("  What would do: " +
                  (answer.finer_step ? "steps of " + number_text(answer.finer_step->g()) +
                                           " g in these holes, or "
                                     : std::string{}) +
                  "one mass there, between the holes");
}

bool keeps_already(const BalanceAnswer& answer) {
  if (!answer.found || !answer.allowed)
    return false;
  const balance::Correction& correction = answer.found->correction;
  const Unbalance allowed = answer.allowed->unbalance;
  if (!correction.shown)
    return *correction.at_most <= allowed;
  return correction.bound_95 && correction.unbalance.size + *correction.bound_95 <= allowed;
}

void share_out(BalanceAnswer& answer, const std::vector<balance::Place>& places,
               const balance::PlaceLimits& limits) {
  answer.shares.reset();
  answer.finer_step.reset();
  answer.no_share.reset();
  if (!answer.found || places.empty())
    return;
  const auto wanted = balance::from_kg_m(balance::to_kg_m(answer.found->to_add));
  const auto shares = balance::share_out(wanted, places, limits);
  if (!shares) {
    answer.no_share = shares.fault();
    return;
  }
  answer.shares = *shares;
  if (no_hole_takes_it(answer) && limits.step)
    answer.finer_step = step_that_serves(wanted, places, limits);
}

Result<std::optional<balance::Cures>> cures_of(const BalanceAnswer& answer) {
  if (!answer.found || !answer.plate.properties)
    return std::optional<balance::Cures>{};
  balance::OffBalance off{answer.found->correction.unbalance,
                          answer.plate.properties->mass,
                          answer.plate.properties->undrilled_mass,
                          std::nullopt,
                          std::nullopt,
                          std::nullopt,
                          answer.plate.blank->hole.diameter};
  const auto& bound = answer.found->correction.bound_95;
  if (answer.allowed && bound) { // readings that promise nothing allow no speed
    off.rotor = answer.allowed->mass - answer.plate.properties->mass;
    off.grade = answer.allowed->grade;
    off.at_most = off.unbalance.size + *bound;
  }
  const auto made = balance::cures(off);
  if (!made)
    return made.fault();
  return std::optional{*made};
}

std::vector<std::string> words(const BalanceAnswer& answer) {
  std::vector<std::string> lines;
  const bool shown = answer.found && answer.found->correction.shown;
  if (shown) {
    say_masses(lines, answer);
    say_unbalance(lines, answer);
  } else if (answer.found) {
    say_nothing_shown(lines, answer);
  }
  if (answer.allowed)
    say_allowed(lines, answer);
  if (answer.cures && shown)
    say_plate(lines, answer);
  for (const std::string& caution : cautions(answer))
    lines.push_back("Caution: " + caution);
  return lines;
}

Json to_json(const BalanceAnswer& answer) {
  Json json{{"correction", nullptr}, {"residual", nullptr}, {"permissible_g_mm", nullptr}};
  if (answer.found)
    put_found(json, answer);
  if (answer.allowed) {
    const Allowed& allowed = *answer.allowed;
    json["permissible_g_mm"] = allowed.unbalance.g_mm();
    json["permissible_um"] = allowed.unbalance.kg_m() / allowed.mass.kg() * 1e6;
    json["grade_mm_s"] = allowed.grade.mm_per_s();
    json["speed_rpm"] = allowed.speed.rpm();
    json["turning_mass_g"] = allowed.mass.g();
  }
  if (answer.cures)
    json["cures"] = {{"shift", move_json(answer, answer.cures->shift)},
                     {"highest_speed_rpm",
                      answer.cures->slower ? Json(answer.cures->slower->rpm()) : Json(nullptr)},
                     {"redrill", move_json(answer, answer.cures->redrill)}};
  json["cautions"] = cautions(answer);
  return json;
}

} // namespace whirler::cli
