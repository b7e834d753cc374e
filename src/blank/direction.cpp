#include "whirler/blank/direction.hpp"

#include "whirler/units/text.hpp"

#include <array>
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

/// An edge or a corner: -1, 0 or 1 to the right, and away.
struct Side {
  Angle at;
  int x;
  int y;
};

Side next_side(const Outline& outline, Angle direction) {
  const Box box = box_of(outline);
  const double corner = std::atan2(box.y, box.x) / kRadPerTurn;
  const std::array<Side, 8> sides{{{turns(0.0), 1, 0},
                                   {turns(corner), 1, 1},
                                   {turns(0.25), 0, 1},
                                   {turns(0.5 - corner), -1, 1},
                                   {turns(0.5), -1, 0},
                                   {turns(0.5 + corner), -1, -1},
                                   {turns(0.75), 0, -1},
                                   {turns(1.0 - corner), 1, -1}}};
  const auto away = [&](const Side& side) {
    return std::abs(std::remainder((side.at - direction).turns(), 1.0));
  };
  Side next = sides[0];
  for (const Side& side : sides)
    if (away(side) < away(next))
      next = side;
  return next;
}

/// "far right corner": by the signs of `right` and `away`.
std::string name_of(const Outline& outline, double right, double away) {
  std::string words;
  if (away != 0.0)
    words = away > 0.0 ? "far" : "near";
  if (right != 0.0)
    words += std::string(words.empty() ? "" : " ") + (right > 0.0 ? "right" : "left");
  if (!std::holds_alternative<Rectangle>(outline))
    return words + " side";
  return words + (right != 0.0 && away != 0.0 ? " corner" : " edge");
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
  return name_of(outline, across ? u : 0.0, along ? v : 0.0);
}

std::string true_side_words(const Outline& outline, Angle direction) {
  constexpr Angle kNear = degrees(15.0);
  const Side side = next_side(outline, direction);
  const double apart = std::abs(std::remainder((side.at - direction).turns(), 1.0));
  if (apart > kNear.turns())
    return "";
  return name_of(outline, side.x, side.y);
}

std::string way_words(Length by, Angle direction) {
  constexpr double kNothing = 0.01;
  const double x = std::cos(direction.rad());
  const double y = std::sin(direction.rad());
  const auto part = [&](double share, const char* up, const char* down) {
    return number_text(std::abs(share) * by.mm()) + " mm " + (share > 0.0 ? up : down);
  };
  std::string words;
  if (std::abs(x) >= kNothing)
    words = part(x, "to the right", "to the left");
  if (std::abs(y) >= kNothing)
    words += (words.empty() ? "" : " and ") + part(y, "away from you", "towards you");
  return words;
}

} // namespace whirler::blank
