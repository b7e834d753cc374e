#include "balance_answer.hpp"

#include "cure_lines.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::cli {
namespace {

std::string g_mm(Unbalance unbalance) { return number_text(unbalance.g_mm()) + " g mm"; }
std::string deg(Angle angle) { return number_text(angle.deg()) + " deg"; }

std::string place(const balance::PlacedMass& mass) {
  return number_text(mass.mass.g()) + " g at " + deg(mass.at) + ", radius " +
         number_text(mass.radius.mm()) + " mm";
}

balance::PlacedUnbalance missed(const BalanceAnswer& answer) {
  return answer.shares ? answer.shares->left : balance::PlacedUnbalance{};
}

/// What will be left: errors of the readings, and what the steps of the masses miss.
struct Rest {
  Unbalance expected;
  Unbalance bound_95;
};

Rest rest_of(const BalanceAnswer& answer) {
  const double missed_kg_m = missed(answer).size.kg_m();
  const balance::Spread& spread = answer.found->correction.spread;
  return {kilogram_metres(std::hypot(spread.rms().kg_m(), missed_kg_m)),
          kilogram_metres(spread.bound_95().kg_m() + missed_kg_m)};
}

void say_allowed(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const Allowed& allowed = *answer.allowed;
  const double offset_um = allowed.unbalance.kg_m() / allowed.mass.kg() * 1e6;
  lines.push_back(
      "Allowed: " + g_mm(allowed.unbalance) + " (grade G " + number_text(allowed.grade.mm_per_s()) +
      ", " + number_text(allowed.speed.rpm(), 5) + " rpm, " + number_text(allowed.mass.g(), 4) +
      " g turning: centre of mass " + number_text(offset_um) + " um off)");
}

void say_masses(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const Found& found = *answer.found;
  lines.push_back("Add " + place(found.to_add));
  if (answer.shares)
    for (const balance::PlacedMass& mass : answer.shares->masses)
      lines.push_back("  hole at " + deg(mass.at) + ": " + number_text(mass.mass.g()) + " g");
  if (answer.shares && answer.shares->masses.empty())
    lines.emplace_back("  no hole takes a mass: half of one --step is more than any hole's share");
  lines.push_back(
      "  (angles from the index mark, with the rotation; the trial mass counted as " +
      std::string(found.to_add.mass == found.correction.mass.mass ? "taken off)" : "left on)"));
}

void say_unbalance(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::Correction& correction = answer.found->correction;
  const Rest rest = rest_of(answer);
  lines.push_back("Now: " + g_mm(correction.unbalance.size) + ", heavy side at " +
                  deg(correction.unbalance.at));
  lines.push_back(
      "Then: about " + g_mm(rest.expected) + " left, under " + g_mm(rest.bound_95) +
      " in 95 of 100" +
      (answer.noise_given
           ? ""
           : ", if the readings are as good as the best published: --noise tells your own"));
  if (!answer.allowed)
    return;
  const Unbalance allowed = answer.allowed->unbalance;
  if (correction.unbalance.size <= allowed)
    lines.push_back("The grade is kept already: no mass is needed");
  else if (rest.bound_95 <= allowed)
    lines.push_back("That keeps the grade");
  else
    lines.push_back("That may not keep the grade: measure again with the mass on, and correct the "
                    "rest the same way");
}

std::string towards(const BalanceAnswer& answer, Angle rotor) {
  const Angle plate = blank::on_plate(rotor, answer.plate.mounting);
  return blank::side_words(answer.plate.blank->outline, plate) + " (" + deg(plate) +
         " on the plate)";
}

void say_plate(std::vector<std::string>& lines, const BalanceAnswer& answer) {
  const balance::Cures& cures = *answer.cures;
  lines.push_back("The hole is off by " + number_text(cures.redrill.by.mm()) + " mm, towards the " +
                  towards(answer, cures.shift.towards));
  const CureWords words{[&](Angle rotor) { return "the " + towards(answer, rotor); },
                        answer.plate.blank->hole.diameter, "add the mass above",
                        ": how slow, --grade, --speed and --mass tell"};
  for (std::string& line : cure_lines(cures, words))
    lines.push_back(std::move(line));
}

std::vector<std::string> cautions(const BalanceAnswer& answer) {
  std::vector<std::string> cautions;
  if (!answer.found)
    return cautions;
  if (answer.found->correction.response < balance::kWeakTrial)
    cautions.emplace_back("the trial mass changed little: repeat with a larger one");
  cautions.emplace_back("fix every mass so that it cannot fly off; run with the lid closed");
  return cautions;
}

Json shares_json(const balance::Shares& shares) {
  Json list = Json::array();
  for (const balance::PlacedMass& mass : shares.masses)
    list.push_back(to_json(mass));
  return {{"masses", list}, {"missed_g_mm", shares.left.size.g_mm()}};
}

void put_found(Json& json, const BalanceAnswer& answer) {
  const balance::Correction& correction = answer.found->correction;
  const Rest rest = rest_of(answer);
  json["correction"] = to_json(answer.found->to_add);
  json["residual"] = balance::predicted_rest(correction, missed(answer));
  json["residual_g_mm"] = {{"expected", rest.expected.g_mm()},
                           {"bound_95", rest.bound_95.g_mm()},
                           {"from", answer.noise_given ? "noise" : "published_trials"}};
  json["unbalance"] = {{"g_mm", correction.unbalance.size.g_mm()},
                       {"angle_deg", correction.unbalance.at.deg()}};
  json["trial_response"] =
      std::isfinite(correction.response) ? Json(correction.response) : Json(nullptr);
  if (answer.found->consistency)
    json["consistency"] = *answer.found->consistency;
  if (answer.shares)
    json["shares"] = shares_json(*answer.shares);
}

Json move_json(const BalanceAnswer& answer, const balance::Move& move) {
  const Angle plate = blank::on_plate(move.towards, answer.plate.mounting);
  return {{"by_mm", move.by.mm()},
          {"towards", blank::side_words(answer.plate.blank->outline, plate)},
          {"plate_deg", plate.deg()},
          {"rotor_deg", move.towards.deg()}};
}

} // namespace

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
  if (answer.allowed) {
    off.rotor = answer.allowed->mass - answer.plate.properties->mass;
    off.grade = answer.allowed->grade;
  }
  const auto made = balance::cures(off);
  if (!made)
    return made.fault();
  return std::optional{*made};
}

std::vector<std::string> words(const BalanceAnswer& answer) {
  std::vector<std::string> lines;
  if (answer.found) {
    say_masses(lines, answer);
    say_unbalance(lines, answer);
  }
  if (answer.allowed)
    say_allowed(lines, answer);
  if (answer.cures)
    say_plate(lines, answer);
  for (const std::string& caution : cautions(answer))
    lines.push_back("Caution: " + caution);
  return lines;
}

Json to_json(const balance::PlacedMass& mass) {
  return {{"mass_g", mass.mass.g()}, {"angle_deg", mass.at.deg()}, {"radius_mm", mass.radius.mm()}};
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

report::Drawing drawing(const BalanceAnswer& answer) {
  report::PolarPlot plot;
  plot.title = "Unbalance and its correction";
  plot.unit = "g mm";
  plot.clockwise = answer.plate.mounting.clockwise;
  if (answer.found) {
    const balance::Correction& correction = answer.found->correction;
    const balance::Spread& s = correction.spread;
    constexpr double kTo_g2mm2 = 1e12;
    const auto ellipse =
        report::ellipse_95(kTo_g2mm2 * s.xx_kg2m2, kTo_g2mm2 * s.xy_kg2m2, kTo_g2mm2 * s.yy_kg2m2);
    plot.vectors.push_back({"now, heavy side", correction.unbalance.size.g_mm(),
                            correction.unbalance.at, ellipse, report::Look::heavy});
    const auto added = balance::from_kg_m(balance::to_kg_m(answer.found->to_add));
    plot.vectors.push_back(
        {"mass to add", added.size.g_mm(), added.at, std::nullopt, report::Look::second});
  }
  if (answer.allowed)
    plot.limits.push_back({"allowed, G " + number_text(answer.allowed->grade.mm_per_s()) + " at " +
                               number_text(answer.allowed->speed.rpm(), 5) + " rpm",
                           answer.allowed->unbalance.g_mm()});
  return draw(plot);
}

} // namespace whirler::cli
