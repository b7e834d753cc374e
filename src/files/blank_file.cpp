#include "whirler/blank/edges.hpp"
#include "whirler/blank/validity.hpp"
#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::files {
namespace {

using namespace blank;

// Wider than any plate that a bench spins, narrow enough that millimetres written as micrometres
// or metres are seen.
const Range kSide = above(0, 1000, "mm");
const Range kCoordinate = from_to(-1000, 1000, "mm");
constexpr std::size_t kMostCorners = 1000;
constexpr std::size_t kMostHoles = 200;

std::optional<Point> read_point(const Place& place) {
  const auto values = read_numbers(place, 2, kCoordinate);
  if (values.empty())
    return std::nullopt;
  return Point{millimetres(values[0]), millimetres(values[1])};
}

// ---- outline

struct Shape {
  Outline outline;
};

bool read_rectangle(const Place& place, Shape& shape) {
  const auto sides = read_numbers(place, 2, kSide);
  if (!sides.empty())
    shape.outline = Rectangle{millimetres(sides[0]), millimetres(sides[1])};
  return !sides.empty();
}

bool read_disc(const Place& place, Shape& shape) {
  const auto diameter = read_number(place, kSide);
  if (diameter)
    shape.outline = Disc{millimetres(*diameter)};
  return diameter.has_value();
}

bool read_polygon(const Place& place, Shape& shape) {
  const std::size_t count = place.node.items.size();
  if (place.node.type != Node::Type::array || count < 3 || count > kMostCorners)
    return place.refuse("an array of 3 to 1000 corners [x, y]");
  Polygon polygon;
  for (std::size_t i = 0; i < count; ++i)
    if (const auto corner = read_point(place.item(i)))
      polygon.corners.push_back(*corner);
  const bool good = polygon.corners.size() == count;
  shape.outline = std::move(polygon);
  return good;
}

Conflicts crossed_outline(const Shape& shape) {
  Blank plate;
  plate.outline = shape.outline;
  plate.thickness = millimetres(1); // only the outline is in question
  const Outcome simple = check_outline(plate);
  if (simple)
    return {};
  return {{"polygon_mm", "corners that make no simple outline",
           "corners in order around the plate, no edge touching another, an area", ""}};
}

Schema<Shape> outline_schema() {
  return {{custom<Shape>("rectangle_mm", optional, "[width, height]", read_rectangle),
           custom<Shape>("disc_mm", optional, kSide.words(), read_disc),
           custom<Shape>("polygon_mm", optional, "[[x, y], …]", read_polygon)},
          {{"rectangle_mm", "disc_mm", "polygon_mm"}},
          {{{"polygon_mm"}, crossed_outline}}};
}

// ---- holes

bool read_copper(const Place& place, Blank& into) {
  const auto foils = read_numbers(place, 2, from_to(0, 1000, "um"));
  if (!foils.empty())
    into.copper = {micrometres(foils[0]), micrometres(foils[1])};
  return !foils.empty();
}

Schema<Hole> hole_schema() {
  return {{quantity("diameter_mm", required, kSide, &Hole::diameter, millimetres),
           custom<Hole>("at_mm", required, "[x, y]",
                        [](const Place& place, Hole& hole) {
                          const auto at = read_point(place);
                          hole.at = at.value_or(Point{});
                          return at.has_value();
                        })},
          {},
          {}};
}

std::optional<EdgeDistances> read_edges(const Place& place) {
  const auto d = read_numbers(place, 4, kSide);
  if (d.empty())
    return std::nullopt;
  return EdgeDistances{millimetres(d[0]), millimetres(d[1]), millimetres(d[2]), millimetres(d[3])};
}

/// The hole on the spindle: its place may be said in either of two ways, and the distances in
/// either of two places.
struct SpindleHole {
  Length diameter;
  std::optional<Point> at;
  std::optional<EdgeDistances> edges;
};

Schema<SpindleHole> spindle_schema() {
  return {{quantity("diameter_mm", required, kSide, &SpindleHole::diameter, millimetres),
           custom<SpindleHole>("at_mm", optional, "[x, y]",
                               [](const Place& place, SpindleHole& hole) {
                                 hole.at = read_point(place);
                                 return hole.at.has_value();
                               }),
           custom<SpindleHole>("edge_distances_mm", optional, "[left, right, bottom, top]",
                               [](const Place& place, SpindleHole& hole) {
                                 hole.edges = read_edges(place);
                                 return hole.edges.has_value();
                               })},
          {},
          {}};
}

struct Draft : Blank {
  SpindleHole spindle;
  std::optional<EdgeDistances> edges_beside;

  [[nodiscard]] const std::optional<EdgeDistances>& distances() const {
    return edges_beside ? edges_beside : spindle.edges;
  }
  /// The hole with its place worked out; none where the distances do not allow it.
  [[nodiscard]] std::optional<Hole> placed_hole() const {
    if (spindle.at)
      return Hole{spindle.diameter, *spindle.at};
    const auto* sides = std::get_if<Rectangle>(&outline);
    if (sides == nullptr || !distances())
      return std::nullopt;
    const auto position = hole_position(*sides, spindle.diameter, *distances());
    if (!position)
      return std::nullopt;
    return Hole{spindle.diameter, position->at};
  }
};

// ---- rules over the whole plate

Conflicts place_said_once(const Draft& draft) {
  const int ways = int{draft.spindle.at.has_value()} + int{draft.spindle.edges.has_value()} +
                   int{draft.edges_beside.has_value()};
  if (ways == 1)
    return {};
  return {{"hole", ways == 0 ? "a hole without its place" : "the hole's place more than once",
           "exactly one of \"at_mm\" and \"edge_distances_mm\"",
           ways == 0 ? "add one" : "take all but one out"}};
}

Conflicts distances_disagree(const Draft& draft) {
  if (!draft.distances() || draft.spindle.at)
    return {};
  const std::string path = draft.edges_beside ? "edge_distances_mm" : "hole/edge_distances_mm";
  const auto* sides = std::get_if<Rectangle>(&draft.outline);
  if (sides == nullptr)
    return {{path, "edge distances of a plate that is no rectangle", "\"at_mm\" for other outlines",
             "give the hole's \"at_mm\""}};
  const auto position = hole_position(*sides, draft.spindle.diameter, *draft.distances());
  if (position)
    return {};
  return {{path, position.fault().what, "distances that add up to the plate's size",
           position.fault().next}};
}

Conflicts hole_outside(const Draft& draft, const Hole& hole, const std::string& path) {
  Blank plate;
  plate.outline = draft.outline;
  plate.hole = hole;
  const Outcome fits = check_holes(plate);
  if (fits)
    return {};
  const std::string at = number_text(hole.at.x.mm(), 6) + ", " + number_text(hole.at.y.mm(), 6);
  return {{path, "a hole of " + number_text(hole.diameter.mm(), 6) + " mm at [" + at + "]",
           "a hole that lies wholly inside the outline", fits.fault().next}};
}

Conflicts spindle_hole_outside(const Draft& draft) {
  const auto hole = draft.placed_hole();
  return hole ? hole_outside(draft, *hole, "hole") : Conflicts{};
}

Conflicts other_holes_outside(const Draft& draft) {
  Conflicts all;
  for (std::size_t i = 0; i < draft.holes.size(); ++i)
    for (Conflict& conflict : hole_outside(draft, draft.holes[i], "holes/" + std::to_string(i)))
      all.push_back(std::move(conflict));
  return all;
}

bool meet(const Hole& a, const Hole& b) {
  const double apart = std::hypot(a.at.x.mm() - b.at.x.mm(), a.at.y.mm() - b.at.y.mm());
  return apart <= (a.diameter.mm() + b.diameter.mm()) / 2.0;
}

Conflicts holes_meet(const Draft& draft) {
  Conflicts all;
  const auto spindle = draft.placed_hole();
  for (std::size_t i = 0; i < draft.holes.size(); ++i) {
    std::string other = spindle && meet(*spindle, draft.holes[i]) ? "the hole on the spindle" : "";
    for (std::size_t k = 0; k < i && other.empty(); ++k)
      if (meet(draft.holes[k], draft.holes[i]))
        other = "hole " + std::to_string(k);
    if (!other.empty())
      all.push_back({"holes/" + std::to_string(i), "a hole that meets " + other,
                     "holes apart from each other", "make holes that run together one outline"});
  }
  return all;
}

Schema<Draft> blank_schema() {
  return {{text<Draft>("name", optional, &Draft::name),
           custom<Draft>("outline", required, "an object with the plate's shape",
                         [](const Place& place, Draft& draft) {
                           Shape shape;
                           const bool good = read_object(place, outline_schema(), shape);
                           draft.outline = std::move(shape.outline);
                           return good;
                         }),
           quantity<Draft>("thickness_mm", required, above(0, 50, "mm"), &Draft::thickness,
                           millimetres),
           custom<Draft>("copper_um", required, "[upper, lower]; 0 for a bare face", read_copper),
           quantity<Draft>("laminate_density_g_cm3", optional, from_to(0.1, 25, "g/cm3"),
                           &Draft::laminate_density, g_per_cm3),
           part<Draft>("hole", required, spindle_schema(), &Draft::spindle),
           list<Draft>("holes", optional, 0, kMostHoles, hole_schema(), &Draft::holes),
           custom<Draft>("edge_distances_mm", optional, "[left, right, bottom, top]",
                         [](const Place& place, Draft& draft) {
                           draft.edges_beside = read_edges(place);
                           return draft.edges_beside.has_value();
                         })},
          {},
          {{{"hole"}, place_said_once},
           {{"hole", "outline"}, distances_disagree},
           {{"hole", "outline"}, spindle_hole_outside},
           {{"holes", "outline"}, other_holes_outside},
           {{"holes", "hole", "outline"}, holes_meet}}};
}

} // namespace

Read<blank::Blank> read_blank(std::string_view text, const std::string& file) {
  auto read = read_file(text, file, "blank", blank_schema());
  if (!read)
    return read.faults();
  Draft& draft = read.value();
  draft.hole = *draft.placed_hole(); // the rules above let no plate without it through
  draft.edges = draft.distances();
  return Blank{static_cast<Blank&&>(draft)};
}

} // namespace whirler::files
