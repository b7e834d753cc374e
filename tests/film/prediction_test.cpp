#include "catch.hpp"
#include "whirler/film/prediction.hpp"

#include <cmath>

using namespace whirler;
using namespace whirler::film;

namespace {

Resist resist() {
  Resist r;
  r.viscosity = millipascal_seconds(25);
  r.density = g_per_cm3(1.04);
  r.solids_mass_fraction = 0.36;
  r.solids_density = g_per_cm3(1.2);
  r.solvents = {{"pgmea", 1.0}};
  return r;
}

const Conditions kConditions{{celsius(25), 0.45, Cover::open, {}}, {}};

} // namespace

TEST_CASE("film: without boards the prediction is the label's, with its wide interval") {
  const auto p = predict(rule_model(resist(), kConditions), {});
  REQUIRE(p.ok());
  CHECK(p->model == Model::rule);
  const auto direct = label_estimate(resist(), kConditions, rpm(3000));
  const auto film = p->curve(rpm(3000));
  CHECK(film->thickness == direct->thickness);
  CHECK(film->low == direct->low);
  CHECK(film->high == direct->high);
}

TEST_CASE("film: a witness of the file makes the prediction calibrated and narrow") {
  Resist r = resist();
  r.witnesses = {{rpm(3000), micrometres(2.2)}};
  const auto p = predict(rule_model(r, kConditions), witness_boards(r));
  REQUIRE(p.ok());
  CHECK(p->model == Model::calibrated);
  const auto film = p->curve(rpm(3000));
  CHECK(film->thickness.um() == Approx(2.2).epsilon(0.02));
  CHECK(film->high / film->low < 1.25);
  CHECK(exponent_at(*p, rpm(3000)).value() == Approx(0.5).margin(0.01));
}

TEST_CASE("film: a board measured in a cold room predicts today's warm one") {
  const std::vector<Board> cold = {{{rpm(3000), celsius(15), {}}, micrometres(2.0)}};
  const std::vector<Board> warm = {{{rpm(3000), celsius(25), {}}, micrometres(2.0)}};
  const auto base = rule_model(resist(), kConditions);
  const double from_cold = predict(base, cold)->curve(rpm(3000))->thickness.um();
  const double from_warm = predict(base, warm)->curve(rpm(3000))->thickness.um();
  const double ratio = temperature_ratio(resist(), kConditions.air, celsius(15)).value();
  CHECK(ratio > 1.05);
  CHECK(from_cold / from_warm == Approx(ratio).epsilon(0.01));
}

TEST_CASE("film: several known boards without a label teach an exponent") {
  // EPFL course Micro-331: T = 94.67679 rpm^-0.52672 um, three of its points.
  const auto curve = [](double speed) { return 94.67679 * std::pow(speed, -0.52672); };
  std::vector<Board> boards;
  for (const double speed : {1000.0, 2000.0, 4000.0})
    boards.push_back({{rpm(speed), {}, {}}, micrometres(curve(speed))});
  const Known first{boards[0].thickness, boards[0].spin.speed, {}};
  const auto p = predict(known_model(first, kConditions.air), boards);
  REQUIRE(p.ok());
  CHECK(p->model == Model::calibrated);
  CHECK(exponent_at(*p, rpm(2000)).value() > 0.505);
  CHECK(p->curve(rpm(6000))->thickness.um() == Approx(curve(6000)).epsilon(0.03));
}

TEST_CASE("film: a board of a liquid that does not dry is judged at its own dwell") {
  Resist oil;
  oil.viscosity = pascal_seconds(1.0);
  oil.density = g_per_cm3(1.0);
  const Conditions today{kConditions.air, seconds(40)};
  const auto base = rule_model(oil, today);
  // Twice as long at speed leaves 2^-1/2 of the film.
  const std::vector<Board> board = {{{rpm(3000), {}, seconds(80)}, micrometres(10.0)}};
  const auto film = predict(base, board)->curve(rpm(3000));
  CHECK(film->thickness.um() == Approx(10.0 * std::sqrt(2.0)).epsilon(0.02));
}

TEST_CASE("film: the full model and the rule stand a third apart, and both can be calibrated") {
  const auto full = thinning_model(resist(), {}, {kConditions.air, {}, {}});
  REQUIRE(full.ok());
  const auto rule = rule_model(resist(), kConditions);
  const double by_full = full->thickness({rpm(3000), {}, {}})->um();
  const double by_rule = rule.thickness({rpm(3000), {}, {}})->um();
  CHECK(by_rule / by_full == Approx(0.68).margin(0.04)); // some 30 % apart on one bottle [math]
  const std::vector<Board> boards = {{{rpm(3000), {}, {}}, micrometres(2.2)}};
  for (const BaseModel& base : {*full, rule}) {
    const auto film = predict(base, boards)->curve(rpm(3000));
    CHECK(film->thickness.um() == Approx(2.2).epsilon(0.02));
  }
}

TEST_CASE(
    "published: the full model too leaves a thicker film in a warmer room, by 1.06 % a kelvin") {
  // PGMEA, 18 to 26 C, another closure of the same model [math]: +1.06 % a kelvin; the rule's own
  // figure is tested beside the rule.
  CoatPlan fast;
  fast.ramp = rpm_per_s(50000);
  const auto at = [&](double room) {
    const Air air{celsius(room), 0.45, Cover::open, {}};
    return thinning_model(resist(), fast, {air, {}, {}})->thickness({rpm(3000), {}, {}})->um();
  };
  CHECK(100.0 * std::log(at(26) / at(18)) / 8.0 == Approx(1.06).margin(0.25));
}

TEST_CASE("film: the full model judges a board at its own temperature and dwell") {
  Resist oil;
  oil.viscosity = pascal_seconds(1.0);
  oil.density = g_per_cm3(1.0);
  CoatPlan plan;
  plan.dwell = seconds(40);
  const auto full = thinning_model(oil, plan, {kConditions.air, {}, {}});
  REQUIRE(full.ok());
  const double today = full->thickness({rpm(3000), {}, {}})->um();
  CHECK(full->thickness({rpm(3000), celsius(15), {}})->um() > 1.1 * today);
  CHECK(full->thickness({rpm(3000), {}, seconds(160)})->um() == Approx(today / 2).epsilon(0.05));
}
