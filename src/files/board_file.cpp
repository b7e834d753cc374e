#include "whirler/files/read.hpp"
#include "whirler/files/schema.hpp"

#include <algorithm>

namespace whirler::files {
namespace {

const char* const kSidesInWords = "an array of one or two different names";

bool read_sides(const Place& place, Board& board) {
  const std::size_t count = place.node.items.size();
  if (place.node.type != Node::Type::array || count < 1 || count > 2)
    return place.refuse(kSidesInWords);
  std::vector<std::string> names;
  for (std::size_t i = 0; i < count; ++i)
    if (auto name = read_text(place.item(i)))
      names.push_back(std::move(*name));
  if (names.size() != count)
    return false;
  if (count == 2 && names[0] == names[1])
    return place.refuse(kSidesInWords);
  board.sides = std::move(names);
  return true;
}

Schema<SpreadStep> spread_schema() {
  return {{quantity("speed_rpm", required, above(0, 30000, "rpm"), &SpreadStep::speed, rpm),
           quantity("dwell_s", required, from_to(0, 3600, "s"), &SpreadStep::dwell, seconds)},
          {},
          {}};
}

/// What belongs to a speed that is worked out, and says nothing beside a profile.
Conflicts beside_profile(const Board& board) {
  Conflicts conflicts;
  const auto refuse = [&](const char* key) {
    conflicts.push_back({key, "beside a profile", "nothing: the profile says it", "take one out"});
  };
  if (board.dwell && !board.profile.empty())
    refuse("dwell_s");
  if (board.spread && !board.profile.empty())
    refuse("spread");
  return conflicts;
}

Schema<Board> board_schema() {
  return {{text("name", required, &Board::name), text("resist", required, &Board::resist),
           text("blank", required, &Board::blank), text("machine", required, &Board::machine),
           quantity("target_um", optional, above(0, 1000, "um"), &Board::target, micrometres),
           text("profile", optional, &Board::profile),
           custom<Board>("sides", optional, kSidesInWords, read_sides),
           part("spread", optional, spread_schema(), &Board::spread),
           quantity("dwell_s", optional, above(0, 36000, "s"), &Board::dwell, seconds),
           quantity("lamp_mW_cm2", optional, above(0, 10000, "mW/cm2"), &Board::lamp, mW_per_cm2)},
          {{"target_um", "profile"}},
          {{{"profile"}, beside_profile}}};
}

} // namespace

Read<Board> read_board(std::string_view text, const std::string& file) {
  return read_file<Board>(text, file, "board", board_schema());
}

} // namespace whirler::files
