#include "run_film.hpp"

#include "whirler/units/text.hpp"

namespace whirler::cli {

std::optional<FilmAnswer> film_of(notebook::Notebook& notebook,
                                  const std::optional<std::int64_t>& coat) {
  if (!coat)
    return std::nullopt;
  const auto stored = notebook.coat(*coat);
  if (!stored)
    return std::nullopt;
  return read_coat_film(*stored).film;
}

Json film_json(const std::optional<FilmAnswer>& film) {
  if (!film)
    return nullptr;
  const auto& set_time = film->course.set_time;
  return {{"thickness_um", rounded(film->film.thickness.um())},
          {"interval_um", {rounded(film->film.low.um()), rounded(film->film.high.um())}},
          {"model", film::model_word(film->model)},
          {"is_set", film->course.is_set},
          {"set_time_s", set_time ? rounded(set_time->s()) : Json(nullptr)}};
}

std::string film_text(const film::Estimate& film, bool is_set) {
  return number_text(film.thickness.um()) + " um dry (95 %: " + number_text(film.low.um()) +
         " to " + number_text(film.high.um()) + "), " + (is_set ? "set" : "NOT SET: still flowing");
}

} // namespace whirler::cli
