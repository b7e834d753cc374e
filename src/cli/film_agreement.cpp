#include "film_agreement.hpp"

#include "whirler/units/text.hpp"

namespace whirler::cli {
namespace {

// From lacquers of a few hundredths to pastes of some hundred micrometres [from memory].
constexpr Length kThinnest = micrometres(0.01);
constexpr Length kThickest = micrometres(1000.0);
constexpr double kSlip = 5.0;

std::string um(Length length) { return number_text(length.um()) + " um"; }

} // namespace

FilmRatio ratio_of(const film::Estimate& film, Length other) {
  return {film.low / other, film.high / other};
}

Outcome check_spun_film(Length film) {
  if (film >= kThinnest && film <= kThickest)
    return Done{};
  return input_fault("no spun film is " + um(film) + " thick", "",
                     "give one from " + um(kThinnest) + " to " + um(kThickest));
}

std::optional<Fault> doubt_of(Length measured, const film::Estimate& estimate) {
  if (measured >= estimate.low / kSlip && measured <= kSlip * estimate.high)
    return std::nullopt;
  return input_fault(um(measured) + " is far from what this spin leaves, " +
                         um(estimate.thickness) + " (95 %: " + um(estimate.low) + " to " +
                         um(estimate.high) + ")",
                     "", "check the unit and the figure");
}

} // namespace whirler::cli
