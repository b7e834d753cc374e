#include "catch.hpp"
#include "whirler/film/vapour.hpp"

using namespace whirler;
using namespace whirler::film;
using Catch::Matchers::ContainsSubstring;

namespace {

Resist with(std::vector<SolventShare> solvents) {
  Resist r;
  r.solvents = std::move(solvents);
  return r;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string all;
  for (const std::string& line : lines)
    all += line + "\n";
  return all;
}

} // namespace

TEST_CASE("published: 0.76 mL of acetone brings ten litres to its lower flammable limit") {
  // IEC 60079-20-1:2010: 2.5 % by volume; ideal gas at 25 C, 58.08 g/mol, 786 kg/m3.
  const auto limits = vapour_limits(with({{"acetone", 1.0}}), {celsius(25), litres(10), false});
  REQUIRE(limits.ok());
  REQUIRE(limits->size() == 1);
  CHECK((*limits)[0].to_limit.mL() == Approx(0.76).epsilon(0.01));
  CHECK((*limits)[0].above_flash_point);
}

TEST_CASE("film: a solvent below its flash point cannot reach its limit as vapour alone") {
  // Flash point and limit are two measurements of one thing: where the saturated vapour reaches
  // the limit. So for each solvent of the table the two must agree, roughly.
  for (const Solvent& s : solvents()) {
    if (!s.burns)
      continue;
    CAPTURE(std::string(s.name));
    const double at_flash = s.vapour_pressure(s.flash_point) / kAtmosphere;
    CHECK(at_flash > 0.5 * s.lower_flammable_limit);
    CHECK(at_flash < 2.0 * s.lower_flammable_limit);
  }
}

TEST_CASE("film: cautions name flash point, limit, volume, and a brushed motor first") {
  const auto cautions =
      vapour_cautions(with({{"acetone", 0.5}, {"pgmea", 0.5}}), {celsius(22), litres(10), true});
  REQUIRE(cautions.ok());
  CHECK_THAT(cautions->front(), ContainsSubstring("sparks"));
  const std::string all = joined(*cautions);
  CHECK_THAT(all, ContainsSubstring("acetone: flash point -20 C"));
  CHECK_THAT(all, ContainsSubstring("0.76 mL"));
  CHECK_THAT(all, ContainsSubstring("PGMEA"));
  CHECK_THAT(all, ContainsSubstring("can catch fire"));
  CHECK_THAT(all, ContainsSubstring("stays at 0.42 %"));
  CHECK_THAT(cautions->back(), ContainsSubstring("safety data sheet"));
}

TEST_CASE("film: water and a liquid without solvent are cautioned of what cleans them off") {
  for (const auto& liquid : {with({{"water", 1.0}}), with({})}) {
    CHECK(vapour_limits(liquid, {}).value().empty());
    const auto calm = vapour_cautions(liquid, {}).value();
    CHECK_THAT(calm.front(), ContainsSubstring("cleans"));
    CHECK_THAT(joined(calm), !ContainsSubstring("sparks."));
    const auto sparking = vapour_cautions(liquid, {celsius(22), litres(10), true}).value();
    CHECK_THAT(sparking.front(), ContainsSubstring("Brushed motor"));
  }
  CHECK_THAT(joined(unknown_vapour_cautions({celsius(22), litres(10), true})),
             ContainsSubstring("sparks"));
}

TEST_CASE("film: a bowl without volume and a temperature below zero kelvin are refused") {
  CHECK_FALSE(vapour_limits(with({{"acetone", 1.0}}), {celsius(22), litres(0), false}).ok());
  CHECK_FALSE(vapour_limits(with({{"acetone", 1.0}}), {kelvin(-5), litres(10), false}).ok());
  CHECK_FALSE(vapour_limits(with({{"fog", 1.0}}), {}).ok());
}
