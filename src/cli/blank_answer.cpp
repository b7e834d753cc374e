#include "blank_answer.hpp"

#include "balance_record.hpp"
#include "cure_lines.hpp"
#include "unit_texts.hpp"
#include "whirler/balance/influence.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

/// Below this the balance point and the hole are one for any tool of a workshop.
constexpr Length kCentred = micrometres(1.0);

std::string way(const BlankAnswer& answer, Length by, Angle direction) {
  return way_text(answer.blank.outline, answer.turned_over, by, direction);
}

std::string grade_line(const BlankAnswer& answer) {
  if (!answer.machine)
    return "  grade: name the --machine to see the highest speed";
  const auto& grade = answer.machine->limits.balance_grade;
  if (!grade)
    return "  grade: the machine file has no balance_grade_mm_s";
  const std::string name = "  grade G " + number_text(grade->mm_per_s());
  if (!answer.cures.slower)
    return name + ": kept at any speed that the machine runs, up to " +
           number_text(answer.machine->limits.speed.rpm(), 5) + " rpm";
  const Speed limit = answer.machine->limits.speed;
  return name + ": up to " + number_text(answer.cures.slower->rpm(), 4) + " rpm" +
         (*answer.cures.slower > limit
              ? " (the machine ends at " + number_text(limit.rpm(), 5) + " rpm)"
              : std::string{}) +
         ", with the rotor of " + number_text(answer.machine->rotor.mass.g(), 4) + " g";
}

/// How far off, and where to, as far as it is known.
std::string offset_text(const BlankAnswer& answer) {
  const blank::Properties& p = answer.properties;
  if (answer.from_run && !answer.from_run->shown)
    return "nothing off that " + answer.from_run->source + " could tell: the hole is under " +
           mm_text(answer.from_run->uncertainty) + " off";
  if (p.offset.size() <= kCentred)
    return "centre of mass " + mm_text(p.offset.size()) + " off, centred";
  if (!answer.direction_told())
    return "centre of mass about " + mm_text(p.offset.size()) + " off, direction not told";
  return "centre of mass " + mm_text(p.offset.size()) +
         " off: " + way(answer, p.offset.size(), p.offset.direction());
}

/// What the hole's place rests on.
void say_source(const BlankAnswer& answer, const Context& context) {
  if (answer.edge_uncertainty)
    context.say("  from edge distances" +
                (*answer.edge_uncertainty < kCentred
                     ? std::string{" that agree"}
                     : ", which miss the plate's size: the hole's place is good to " +
                           mm_text(*answer.edge_uncertainty)));
  if (!answer.from_run)
    return;
  if (answer.from_run->shown)
    context.say("  the hole's place is from " + answer.from_run->source + ", to " +
                mm_text(answer.from_run->uncertainty));
  if (answer.from_run->shown && answer.from_run->with_hub)
    context.say(
        "  the hub's own unbalance is in it: a run of the bare hub as --baseline takes it off");
  for (const balance::PlacedMass& mass : answer.from_run->taken_off)
    context.say("  a mass was on in that run, and is taken off here: " + typed_form(mass));
}

void say_figures(const BlankAnswer& answer, const Context& context) {
  const blank::Properties& p = answer.properties;
  context.say((answer.blank.name.empty() ? "Plate" : answer.blank.name) + ": " +
              number_text(p.mass.g()) + " g, farthest point " + mm_text(p.corner_radius) +
              " from the axis");
  context.say("  unbalance " + number_text(p.unbalance.g_mm()) + " g mm: " + offset_text(answer));
  say_source(answer, context);
  context.say("  at " + number_text(answer.speed.rpm(), 5) + " rpm: pull " +
              number_text(blank::unbalance_force(p.unbalance, answer.speed).N()) + " N, energy " +
              number_text(blank::energy(p, answer.speed).J()) + " J, farthest point " +
              number_text(blank::corner_speed(p, answer.speed).m_per_s()) + " m/s, air drag " +
              number_text(blank::air_drag(p, answer.speed).mN_m()) + " mN m");
  context.say(
      "  uneven air from r = " + mm_text(answer.turbulent.onset) +
      (answer.turbulent.onset < p.corner_radius ? ": streaks there" : ", beyond the plate"));
  context.say(grade_line(answer));
}

/// A counter-mass heavier than the plate is no cure.
bool counter_can_be(const BlankAnswer& answer) {
  return answer.cures.counter && answer.cures.counter->mass <= answer.properties.mass;
}

/// From which radius on a counter-mass is no heavier than the plate, where that is far out: on a
/// smaller rim it would be no cure.
std::string least_rim_text(const BlankAnswer& answer) {
  constexpr double kFarOut = 0.1;
  const blank::Properties& p = answer.properties;
  const Length least = metres(p.unbalance.kg_m() / p.mass.kg());
  if (least < kFarOut * p.corner_radius)
    return "";
  return "; on a radius under " + mm_text(least) + " it would be heavier than the plate";
}

std::string counter_text(const BlankAnswer& answer) {
  const balance::Cures& cures = answer.cures;
  if (!cures.counter)
    return "put a counter-mass on the light side, " +
           number_text(answer.properties.unbalance.g_mm()) +
           " g mm over its radius (--rim tells the grams and the place" + least_rim_text(answer) +
           ")";
  if (!counter_can_be(answer))
    return "";
  return "put a counter-mass of " + number_text(cures.counter->mass.g()) + " g at radius " +
         mm_text(cures.counter->radius) + ": from the hole " +
         way(answer, cures.counter->radius, cures.counter->at);
}

std::string no_counter_text(const BlankAnswer& answer) {
  return answer.cures.counter ? "counter-mass at radius " + mm_text(answer.cures.counter->radius) +
                                    ": it would be " + number_text(answer.cures.counter->mass.g()) +
                                    " g, more than the plate"
                              : "";
}

/// The highest speed that is asked for and can be run, where the grade is kept there.
std::optional<Speed> kept_up_to(const BlankAnswer& answer) {
  if (!answer.machine || !answer.cures.slower)
    return std::nullopt;
  const Speed top = std::min(answer.speed, answer.machine->limits.speed);
  return *answer.cures.slower >= top ? std::optional(top) : std::nullopt;
}

std::vector<std::string> cautions(const BlankAnswer& answer) {
  std::vector<std::string> list;
  if (answer.machine && answer.speed > answer.machine->limits.speed)
    list.push_back(number_text(answer.speed.rpm(), 5) + " rpm is above the machine's limit of " +
                   number_text(answer.machine->limits.speed.rpm(), 5) +
                   " rpm: it will not be run there");
  const Energy energy = blank::energy(answer.properties, answer.speed);
  constexpr Energy kMuch = joules(100.0); // 1 kg fallen from 10 m [common practice, no source]
  if (energy > kMuch)
    list.push_back("the turning plate holds " + number_text(energy.J()) +
                   " J: no home-built lid is known to hold it; run it slower");
  const Torque drag = blank::air_drag(answer.properties, answer.speed);
  if (answer.machine && answer.machine->motor && drag > answer.machine->motor->torque)
    list.push_back(
        "the air's drag, " + number_text(drag.N_m()) + " N m, is more than the motor's " +
        number_text(answer.machine->motor->torque.N_m()) + " N m: it will not reach this speed");
  list.emplace_back("a corner that touches, or a plate that comes off, cuts. Lid closed, eyes "
                    "covered, nobody in line with the plate's edge.");
  return list;
}

void say_cures(const BlankAnswer& answer, const Context& context) {
  if (answer.edge_uncertainty && answer.properties.offset.size() > kCentred &&
      !answer.direction_told())
    context.say("What to do: measure the edge distances again, for they disagree by as much as the "
                "hole is off; or run the plate and let --coat tell");
  if (!answer.direction_told())
    return;
  if (answer.turned_over)
    context.say(turned_over_text(true));
  const balance::Move& redrill = answer.cures.redrill;
  const CureWords words{[&](Length by, Angle direction) { return way(answer, by, direction); },
                        answer.blank.hole.diameter,
                        counter_text(answer),
                        no_counter_text(answer),
                        "",
                        kept_up_to(answer),
                        answer.machine ? std::optional(answer.machine->limits.speed_min)
                                       : std::nullopt,
                        new_hole_fits(answer.blank, redrill.by, redrill.towards)};
  for (const std::string& line : cure_lines(answer.cures, words))
    context.say(line);
}

Json move_json(const BlankAnswer& answer, const balance::Move& move) {
  return {
      {"by_mm", move.by.mm()},
      {"towards", blank::side_words(answer.blank.outline, move.towards)},
      {"plate_deg", move.towards.deg()},
      {"by_xy_mm",
       {move.by.mm() * std::cos(move.towards.rad()), move.by.mm() * std::sin(move.towards.rad())}}};
}

Json cures_json(const BlankAnswer& answer) {
  const balance::Cures& cures = answer.cures;
  Json json{{"shift", move_json(answer, cures.shift)}, {"counter_mass", nullptr}};
  json["shift"]["within_hole"] = cures.hole_lets_shift;
  if (cures.counter)
    json["counter_mass"] = {{"mass_g", cures.counter->mass.g()},
                            {"radius_mm", cures.counter->radius.mm()},
                            {"plate_deg", cures.counter->at.deg()}};
  json["highest_speed_rpm"] = cures.slower ? Json(cures.slower->rpm()) : Json(nullptr);
  json["redrill"] = move_json(answer, cures.redrill);
  json["redrill"]["has_material"] =
      new_hole_fits(answer.blank, cures.redrill.by, cures.redrill.towards);
  return json;
}

Json hole_from_json(const BlankAnswer& answer) {
  if (!answer.from_run)
    return nullptr;
  Json off = Json::array();
  for (const balance::PlacedMass& mass : answer.from_run->taken_off)
    off.push_back(to_json(mass));
  return {{"source", answer.from_run->source},
          {"uncertainty_mm", answer.from_run->uncertainty.mm()},
          {"shown", answer.from_run->shown},
          {"taken_off", off}};
}

} // namespace

bool BlankAnswer::direction_told() const {
  // Half as unsure as it is off: the direction is good to 30 degrees, and a corner can be named.
  const bool edges_tell = !edge_uncertainty || properties.offset.size() > 2.0 * *edge_uncertainty;
  return properties.offset.size() > kCentred && edges_tell && (!from_run || from_run->shown);
}

void say_blank(const BlankAnswer& answer, const Context& context) {
  say_figures(answer, context);
  say_cures(answer, context);
  for (const std::string& caution : cautions(answer))
    context.say("Caution: " + caution);
}

Json to_json(const BlankAnswer& answer) {
  const blank::Properties& p = answer.properties;
  return {{"mass_g", p.mass.g()},
          {"undrilled_mass_g", p.undrilled_mass.g()},
          {"area_mm2", p.area.mm2()},
          {"offset_mm", p.offset.size().mm()},
          {"offset_uncertainty_mm",
           answer.edge_uncertainty ? Json(answer.edge_uncertainty->mm()) : Json(nullptr)},
          {"heavy_side_deg", balance::wrapped(p.offset.direction()).deg()},
          {"direction_told", answer.direction_told()},
          {"hole_at_mm", {p.axis.x.mm(), p.axis.y.mm()}},
          {"centre_of_mass_mm", {p.centre_of_mass.x.mm(), p.centre_of_mass.y.mm()}},
          {"unbalance_g_mm", p.unbalance.g_mm()},
          {"speed_rpm", answer.speed.rpm()},
          {"force_N", blank::unbalance_force(p.unbalance, answer.speed).N()},
          {"max_speed_rpm", answer.cures.slower ? Json(answer.cures.slower->rpm()) : Json(nullptr)},
          {"corner_radius_mm", p.corner_radius.mm()},
          {"corner_speed_m_s", blank::corner_speed(p, answer.speed).m_per_s()},
          {"inertia_kg_m2", p.inertia.kg_m2()},
          {"energy_J", blank::energy(p, answer.speed).J()},
          {"air_drag_N_m", blank::air_drag(p, answer.speed).N_m()},
          {"turbulent_radius_mm", {answer.turbulent.onset.mm(), answer.turbulent.full.mm()}},
          {"heat_capacity_kJ_m2_K", blank::heat_capacity(answer.blank).kJ_per_m2_K()},
          {"hole_from_run", hole_from_json(answer)},
          {"cures", cures_json(answer)},
          {"cautions", cautions(answer)}};
}

report::Drawing drawing(const BlankAnswer& answer) {
  report::PlateDrawing plate{answer.blank, answer.properties,       answer.speed,
                             std::nullopt, answer.direction_told(), answer.turned_over};
  if (counter_can_be(answer))
    plate.counter = report::CounterMass{answer.cures.counter->mass, answer.cures.counter->radius};
  return draw(plate);
}

} // namespace whirler::cli
