#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"
#include "whirler/film/solvents.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::files {
namespace {

using exposure::Wedge;
using exposure::WedgeStep;
using film::PowerLaw;
using film::Resist;
using film::SolventShare;
using film::Witness;

constexpr double kShareSlack = 0.01; ///< labels round their shares
constexpr double kFilmSlack = 1.1;   ///< a gauge may read what is left a little over the film
const Range kDensity = from_to(0.3, 25, "g/cm3");

// ---- solvent: a name, null, or shares of a mixture

std::optional<std::string> solvent_name(const Place& place) {
  const std::string allowed = "a solvent of the table: " + film::solvent_names();
  if (place.node.type != Node::Type::text) {
    place.refuse(allowed);
    return {};
  }
  const auto found = film::find_solvent(place.node.text);
  if (found)
    return std::string((*found)->name);
  place.refuse(allowed, "name its main solvent, or calibrate the rule with a measured board");
  return {};
}

Schema<SolventShare> share_schema() {
  return {{custom<SolventShare>("name", required, "a solvent of the table",
                                [](const Place& place, SolventShare& share) {
                                  auto name = solvent_name(place);
                                  if (name)
                                    share.name = std::move(*name);
                                  return name.has_value();
                                }),
           number("mass_share", required, above(0, 1), &SolventShare::mass_share)},
          {},
          {}};
}

bool check_mixture(const Place& place, const std::vector<SolventShare>& shares) {
  double sum = 0.0;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    sum += shares[i].mass_share;
    for (std::size_t j = 0; j < i; ++j)
      if (shares[j].name == shares[i].name)
        return place.item(i).refuse("each solvent once", "add the two shares together");
  }
  if (std::abs(sum - 1.0) <= kShareSlack)
    return true;
  return place.refuse("mass shares that sum to 1",
                      "a share is of the solvents' mass, without the solids",
                      "mass shares that sum to " + number_text(sum, 4));
}

bool read_mixture(const Place& place, Resist& resist) {
  constexpr std::size_t kMost = 16;
  const std::size_t count = place.node.items.size();
  if (count == 0 || count > kMost)
    return place.refuse("an array of 1 to 16 solvents");
  const auto schema = share_schema();
  std::vector<SolventShare> shares(count);
  bool good = true;
  for (std::size_t i = 0; i < count; ++i)
    good = read_object(place.item(i), schema, shares[i]) && good;
  if (!good || !check_mixture(place, shares))
    return false;
  double sum = 0.0;
  for (const SolventShare& share : shares)
    sum += share.mass_share;
  for (SolventShare& share : shares)
    share.mass_share /= sum;
  resist.solvents = std::move(shares);
  return true;
}

bool read_solvent(const Place& place, Resist& resist) {
  if (place.node.type == Node::Type::null)
    return true;
  if (place.node.type == Node::Type::array)
    return read_mixture(place, resist);
  if (place.node.type != Node::Type::text)
    return place.refuse("a solvent's name, null, or an array of {\"name\", \"mass_share\"}");
  auto name = solvent_name(place);
  if (name)
    resist.solvents = {{std::move(*name), 1.0}};
  return name.has_value();
}

// ---- the parts of the file

Schema<Witness> witness_schema() {
  return {
      {quantity("speed_rpm", required, above(0, 100'000, "rpm"), &Witness::speed, rpm),
       quantity("thickness_um", required, above(0, 1000, "um"), &Witness::thickness, micrometres)},
      {},
      {}};
}

Schema<PowerLaw> power_law_schema() {
  return {{number("n", required, from_to(0.1, 2), &PowerLaw::n),
           number("kappa_Pa_sn", required, above(0, 1'000'000, "Pa s^n"), &PowerLaw::kappa_Pa_sn)},
          {},
          {}};
}

Conflicts left_over_film(const Wedge& wedge) {
  for (std::size_t i = 0; i < wedge.steps.size(); ++i)
    if (wedge.steps[i].left > kFilmSlack * wedge.film)
      return {{"steps/" + std::to_string(i) + "/left_um", number_text(wedge.steps[i].left.um(), 6),
               "no more than film_um, which is " + number_text(wedge.film.um(), 6),
               "developing takes film away; check the reading"}};
  return {};
}

Schema<Wedge> wedge_schema() {
  const Schema<WedgeStep> step{
      {number("density", required, from_to(0, 6), &WedgeStep::density),
       quantity("left_um", required, from_to(0, 1000, "um"), &WedgeStep::left, micrometres)},
      {},
      {}};
  return {{quantity("irradiance_mW_cm2", required, above(0, 100'000, "mW/cm2"), &Wedge::irradiance,
                    mW_per_cm2),
           quantity("time_s", required, above(0, 86'400, "s"), &Wedge::time, seconds),
           quantity("film_um", required, above(0, 1000, "um"), &Wedge::film, micrometres),
           list("steps", required, 1, 200, step, &Wedge::steps)},
          {},
          {{{"film_um", "steps"}, left_over_film}}};
}

/// The keys of a resist file that describe the liquid stand at the top of the file, so the schema
/// of the file is over what it fills.
struct Draft : Resist {
  std::optional<Density> dry_density;
  bool names_dry_density = false; ///< also where its value was refused: one mistake, one fault
  std::vector<Wedge> wedges;
};

Field<Draft> dry_density_field() {
  return custom<Draft>("solids_density_g_cm3", optional, kDensity.words(),
                       [](const Place& place, Draft& draft) {
                         draft.names_dry_density = true;
                         const auto value = read_number(place, kDensity);
                         if (value)
                           draft.dry_density = g_per_cm3(*value);
                         return value.has_value();
                       });
}

/// One wedge, or an array of those of several films.
Field<Draft> wedge_field() {
  constexpr std::size_t kMost = 20;
  const std::string words = "a wedge {…}, or an array of 1 to 20 wedges";
  return custom<Draft>(
      "wedge", optional, words, [words, schema = wedge_schema()](const Place& place, Draft& draft) {
        if (place.node.type == Node::Type::object)
          return read_object(place, schema, draft.wedges.emplace_back());
        const std::size_t count = place.node.items.size();
        if (place.node.type != Node::Type::array || count == 0 || count > kMost)
          return place.refuse(words);
        bool good = true;
        for (std::size_t i = 0; i < count; ++i)
          good = read_object(place.item(i), schema, draft.wedges.emplace_back()) && good;
        return good;
      });
}

Conflicts solids_against_solvent(const Draft& draft) {
  if (draft.dries() && draft.solids_mass_fraction >= 1.0)
    return {{"solids_mass_fraction", number_text(draft.solids_mass_fraction),
             "less than 1 where there is a solvent",
             "write the solids as a fraction below 1, or \"solvent\": null"}};
  if (!draft.dries() && draft.solids_mass_fraction < 1.0)
    return {{"solvent",
             "null with a solids_mass_fraction of " + number_text(draft.solids_mass_fraction),
             "the solvent's name where the solids are less than 1",
             "name the solvent, or write 1 for a liquid that does not dry"}};
  return {};
}

Conflicts dry_density_missing(const Draft& draft) {
  if (draft.names_dry_density || !draft.dries())
    return {};
  return {{"solids_density_g_cm3", "nothing: the key \"solids_density_g_cm3\" is missing",
           kDensity.words() + " where there is a solvent",
           "add it; 1.2 is common for resins (common practice, no source)"}};
}

Schema<Draft> resist_schema() {
  return {
      {text<Draft>("name", optional, &Draft::name),
       quantity<Draft>("viscosity_mPa_s", required, above(0, 10'000'000, "mPa s"),
                       &Draft::viscosity, millipascal_seconds),
       quantity<Draft>("at_C", optional, from_to(0, 150, "C"), &Draft::viscosity_at, celsius),
       quantity<Draft>("density_g_cm3", required, kDensity, &Draft::density, g_per_cm3),
       number<Draft>("solids_mass_fraction", required, above(0, 1), &Draft::solids_mass_fraction),
       dry_density_field(),
       custom<Draft>("solvent", required, "a solvent's name, null, or an array of shares",
                     read_solvent),
       quantity<Draft>("activation_energy_kJ_mol", optional, from_to(0, 300, "kJ/mol"),
                       &Draft::activation_energy, kJ_per_mol),
       number<Draft>("chi", optional, from_to(-2, 3), &Draft::chi),
       number<Draft>("martin_k", optional, from_to(0, 10), &Draft::martin_k),
       part<Draft>("power_law", optional, power_law_schema(), &Draft::power_law),
       list<Draft>("witness", optional, 0, 1000, witness_schema(), &Draft::witnesses),
       wedge_field()},
      {},
      {{{"solids_mass_fraction", "solvent"}, solids_against_solvent},
       {{"solvent"}, dry_density_missing}}};
}

} // namespace

Read<ResistFile> read_resist(std::string_view text, const std::string& file) {
  auto read = read_file(text, file, "resist", resist_schema());
  if (!read)
    return read.faults();
  Draft& draft = read.value();
  draft.solids_density = draft.dry_density.value_or(draft.density);
  return ResistFile{static_cast<Resist&&>(draft), std::move(draft.wedges)};
}

} // namespace whirler::files
