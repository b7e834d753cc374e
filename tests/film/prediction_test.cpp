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
  const std::vector<Board> cold = {{rpm(3000), micrometres(2.0), celsius(15)}};
  const std::vector<Board> warm = {{rpm(3000), micrometres(2.0), celsius(25)}};
  const auto base = rule_model(resist(), kConditions);
  const double from_cold = predict(base, cold)->curve(rpm(3000))->thickness.um();
  const double from_warm = predict(base, warm)->curve(rpm(3000))->thickness.um();
  const double ratio = temperature_ratio(resist(), kConditions.air, celsius(15)).value();
  CHECK(ratio > 1.05);
  CHECK(from_cold / from_warm == Approx(ratio).epsilon(0.01));
}
