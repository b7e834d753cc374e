#include "whirler/blank/direction.hpp"

#include <cmath>

namespace whirler::blank {
namespace {

Angle wrapped(Angle angle) {
  const double part = angle.turns() - std::floor(angle.turns());
  return turns(part < 1.0 ? part : 0.0);
}

double sense(const Mounting& mounting) {
  return mounting.clockwise == mounting.turned_over ? 1.0 : -1.0;
}

/// Half sides of the box that the outline is compared with; only their ratio matters.
struct Box {
  double x = 1.0;
  double y = 1.0;
};

Box box_of(const Outline& outline) {
  if (const auto* r = std::get_if<Rectangle>(&outline))
    return {r->width.mm(), r->height.mm()};
  return {};
}

} // namespace

Angle on_plate(Angle rotor, const Mounting& mounting) {
  return wrapped(sense(mounting) * (rotor - mounting.x_at));
}

Angle on_rotor(Angle plate, const Mounting& mounting) {
  return wrapped(sense(mounting) * plate + mounting.x_at);
}

std::string side_words(const Outline& outline, Angle direction) {
  constexpr double kEighth = 0.41421356237309503; // tan 22.5 deg
  const Box box = box_of(outline);
  const double u = std::cos(direction.rad()) / box.x;
  const double v = std::sin(direction.rad()) / box.y;
  const bool across = std::abs(u) > kEighth * std::abs(v);
  const bool along = std::abs(v) > kEighth * std::abs(u);
  const bool rectangle = std::holds_alternative<Rectangle>(outline);
  std::string words;
  if (along)
    words = v > 0.0 ? "far" : "near";
  if (across)
    words += std::string(words.empty() ? "" : " ") + (u > 0.0 ? "right" : "left");
  return words + (!rectangle ? " side" : across && along ? " corner" : " edge");
}

} // namespace whirler::blank
