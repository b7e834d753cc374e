// Where words go on a drawing full of lines: where least is under them.
#pragma once

#include "scale.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace whirler::report {

/// The paper that small words take, their middle at `middle`.
[[nodiscard]] Frame box_of(std::string_view words, Xy middle);

/// Writes small words whose middle is at `middle`.
void write_middle(Drawing& drawing, std::string_view words, Xy middle);

/// What is on the paper, as spots a few units apart, each as heavy as it is bad to write over it.
class Inked {
 public:
  void line(Xy from, Xy to, double weight);
  /// Turned clockwise on paper by `turn_rad`.
  void ellipse(Xy centre, double half_x, double half_y, double turn_rad, double weight);
  void circle(Xy centre, double radius, double weight) {
    ellipse(centre, radius, radius, 0.0, weight);
  }
  void area(const Frame& box, double weight);

  [[nodiscard]] double under(const Frame& box) const;

 private:
  struct Spot {
    Xy at;
    double weight;
  };
  std::vector<Spot> spots_;
};

/// The middle of words that name a circle: beside its line and clear of it, within `widest` of the
/// centre, with the least of `inked` under them. None where they would have to lie over something.
[[nodiscard]] std::optional<Xy> beside_circle(std::string_view words, Xy centre, double radius,
                                              double widest, const Inked& inked);

} // namespace whirler::report
