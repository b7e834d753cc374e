#include "whirler/files/calibration.hpp"

#include "schema.hpp"
#include "whirler/units/text.hpp"

#include <nlohmann/json.hpp>

namespace whirler::files {
namespace {

using film::Board;

/// A board as it stands in the file, flat.
struct BoardLine {
  Speed speed;
  Length thickness;
  std::optional<Temperature> temperature;
  std::optional<Duration> dwell;
  std::optional<Ramp> ramp;
  std::optional<Speed> spread_speed;
  std::optional<Duration> spread_dwell;
  bool weighed = false;
};

struct Draft {
  std::string resist;
  std::vector<BoardLine> boards;
};

Conflicts half_a_spread(const BoardLine& line) {
  if (line.spread_speed.has_value() == line.spread_dwell.has_value())
    return {};
  const std::string given = line.spread_speed ? "spread_rpm" : "spread_s";
  const std::string other = line.spread_speed ? "spread_s" : "spread_rpm";
  return {{given, "\"" + given + "\" without \"" + other + "\"", "both of a spread, or neither",
           "add \"" + other + "\""}};
}

Schema<BoardLine> board_schema() {
  return {
      {quantity("speed_rpm", required, above(0, 100'000, "rpm"), &BoardLine::speed, rpm),
       quantity("thickness_um", required, above(0, 1000, "um"), &BoardLine::thickness, micrometres),
       quantity("temperature_C", optional, from_to(-20, 120, "C"), &BoardLine::temperature,
                celsius),
       quantity("dwell_s", optional, above(0, 86'400, "s"), &BoardLine::dwell, seconds),
       quantity("ramp_rpm_s", optional, above(0, 1'000'000, "rpm/s"), &BoardLine::ramp, rpm_per_s),
       quantity("spread_rpm", optional, above(0, 100'000, "rpm"), &BoardLine::spread_speed, rpm),
       quantity("spread_s", optional, above(0, 86'400, "s"), &BoardLine::spread_dwell, seconds),
       word<BoardLine, bool>("how", optional, {{"gauge", false}, {"weighed", true}},
                             &BoardLine::weighed)},
      {},
      {{{"spread_rpm"}, half_a_spread}, {{"spread_s"}, half_a_spread}}};
}

Schema<Draft> calibration_schema() {
  return {{text("resist", optional, &Draft::resist),
           list("boards", required, 0, 1000, board_schema(), &Draft::boards)},
          {},
          {}};
}

std::string line_of(const Board& board) {
  constexpr int kDigits = 7; // a speed typed in rpm comes back as typed
  std::string line = "{\"speed_rpm\": " + number_text(board.spin.speed.rpm(), kDigits) +
                     ", \"thickness_um\": " + number_text(board.thickness.um(), kDigits);
  if (board.spin.temperature)
    line += ", \"temperature_C\": " + number_text(board.spin.temperature->celsius(), kDigits);
  if (board.spin.dwell)
    line += ", \"dwell_s\": " + number_text(board.spin.dwell->s(), kDigits);
  if (board.spin.ramp)
    line += ", \"ramp_rpm_s\": " + number_text(board.spin.ramp->rpm_per_s(), kDigits);
  if (board.spin.spread_speed)
    line += ", \"spread_rpm\": " + number_text(board.spin.spread_speed->rpm(), kDigits) +
            ", \"spread_s\": " + number_text(board.spin.spread_dwell.s(), kDigits);
  return line + (board.weighed ? ", \"how\": \"weighed\"}" : ", \"how\": \"gauge\"}");
}

} // namespace

Read<CalibrationFile> read_calibration(std::string_view text, const std::string& file) {
  auto read = read_file(text, file, "calibration", calibration_schema());
  if (!read)
    return read.faults();
  CalibrationFile calibration{std::move(read.value().resist), {}};
  for (const BoardLine& line : read.value().boards)
    calibration.boards.push_back({{line.speed, line.temperature, line.dwell, line.ramp,
                                   line.spread_speed, line.spread_dwell.value_or(Duration{})},
                                  line.thickness,
                                  line.weighed});
  return calibration;
}

std::string write_calibration(const CalibrationFile& calibration) {
  std::string text = "{\n  \"kind\": \"calibration\",\n  \"format\": 1,\n";
  if (!calibration.resist.empty())
    text += "  \"resist\": " + nlohmann::json(calibration.resist).dump() + ",\n";
  text += "  \"boards\": [";
  const char* separator = "\n    ";
  for (const Board& board : calibration.boards) {
    text += separator + line_of(board);
    separator = ",\n    ";
  }
  return text + "\n  ]\n}\n";
}

} // namespace whirler::files
