#include "polar_labels.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace whirler::report {
namespace {

constexpr double kApart = 3.0; ///< of spots, less than any letter's height
constexpr double kTurn_rad = 2.0 * std::numbers::pi;

int spots_along(double length) { return std::max(1, static_cast<int>(std::ceil(length / kApart))); }

double farthest(const Frame& box, Xy from) {
  return std::hypot(std::max(std::abs(box.left - from.x), std::abs(box.right - from.x)),
                    std::max(std::abs(box.top - from.y), std::abs(box.bottom - from.y)));
}

double nearest(const Frame& box, Xy from) {
  return std::hypot(std::max({0.0, box.left - from.x, from.x - box.right}),
                    std::max({0.0, box.top - from.y, from.y - box.bottom}));
}

struct Circle {
  Xy centre;
  double radius;
  double widest; ///< words beyond this are no longer on the plot

  [[nodiscard]] Xy at(double from_centre, double turn_rad) const {
    return {centre.x + from_centre * std::sin(turn_rad),
            centre.y - from_centre * std::cos(turn_rad)};
  }
};

/// Along one direction, the middle nearest to the circle's line where the words are clear of it.
std::optional<Xy> clear_of_line(std::string_view words, const Circle& circle, double turn_rad,
                                bool inside) {
  constexpr double kClear = 3.0;
  const double way = inside ? -1.0 : 1.0;
  for (double from = circle.radius; from >= 0.0 && from <= circle.widest; from += way) {
    const Xy middle = circle.at(from, turn_rad);
    const Frame box = box_of(words, middle);
    const bool clear = inside ? farthest(box, circle.centre) <= circle.radius - kClear
                              : nearest(box, circle.centre) >= circle.radius + kClear;
    if (clear && farthest(box, circle.centre) <= circle.widest - kClear)
      return middle;
  }
  return std::nullopt;
}

} // namespace

Frame box_of(std::string_view words, Xy middle) {
  const double half = width_of(words, Words::small) / 2.0;
  constexpr double kHalfHeight = 6.0;
  return {middle.x - half, middle.x + half, middle.y - kHalfHeight, middle.y + kHalfHeight};
}

void write_middle(Drawing& drawing, std::string_view words, Xy middle) {
  drawing.text({middle.x, middle.y + 3.5}, words, Words::small, Anchor::middle);
}

void Inked::line(Xy from, Xy to, double weight) {
  const int count = spots_along(std::hypot(to.x - from.x, to.y - from.y));
  for (int i = 0; i <= count; ++i) {
    const double part = static_cast<double>(i) / count;
    spots_.push_back({{from.x + part * (to.x - from.x), from.y + part * (to.y - from.y)}, weight});
  }
}

void Inked::ellipse(Xy centre, double half_x, double half_y, double turn_rad, double weight) {
  const int count = spots_along(kTurn_rad * std::max(half_x, half_y));
  for (int i = 0; i < count; ++i) {
    const double at = kTurn_rad * i / count;
    const Xy p{half_x * std::cos(at), half_y * std::sin(at)};
    spots_.push_back({{centre.x + p.x * std::cos(turn_rad) - p.y * std::sin(turn_rad),
                       centre.y + p.x * std::sin(turn_rad) + p.y * std::cos(turn_rad)},
                      weight});
  }
}

void Inked::area(const Frame& box, double weight) {
  for (double y = box.top; y <= box.bottom; y += kApart)
    line({box.left, y}, {box.right, y}, weight);
}

double Inked::under(const Frame& box) const {
  double weight = 0.0;
  for (const Spot& spot : spots_)
    if (spot.at.x >= box.left && spot.at.x <= box.right && spot.at.y >= box.top &&
        spot.at.y <= box.bottom)
      weight += spot.weight;
  return weight;
}

std::optional<Xy> beside_circle(std::string_view words, Xy centre, double radius, double widest,
                                const Inked& inked) {
  constexpr int kDirections = 72;
  double least = 1.0; // pale lines may be under words, no other
  std::optional<Xy> best;
  for (int i = 0; i < kDirections; ++i)
    for (const bool inside : {true, false}) {
      const auto middle =
          clear_of_line(words, {centre, radius, widest}, kTurn_rad * i / kDirections, inside);
      if (!middle)
        continue;
      // The farther from its line, the less a name says which circle it is of.
      const double away =
          std::abs(radius - std::hypot(middle->x - centre.x, middle->y - centre.y)) / 200.0;
      const double cost = inked.under(box_of(words, *middle)) + away;
      if (cost >= least)
        continue;
      least = cost;
      best = middle;
    }
  return best;
}

} // namespace whirler::report
