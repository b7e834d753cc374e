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
  bool weighed = false;
};

struct Draft {
  std::string resist;
  std::vector<BoardLine> boards;
};

Schema<BoardLine> board_schema() {
  return {
      {quantity("speed_rpm", required, above(0, 100'000, "rpm"), &BoardLine::speed, rpm),
       quantity("thickness_um", required, above(0, 1000, "um"), &BoardLine::thickness, micrometres),
       quantity("temperature_C", optional, from_to(-20, 120, "C"), &BoardLine::temperature,
                celsius),
       quantity("dwell_s", optional, above(0, 86'400, "s"), &BoardLine::dwell, seconds),
       word<BoardLine, bool>("how", optional, {{"gauge", false}, {"weighed", true}},
                             &BoardLine::weighed)},
      {},
      {}};
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
  return line + (board.weighed ? ", \"how\": \"weighed\"}" : ", \"how\": \"gauge\"}");
}

} // namespace

Read<CalibrationFile> read_calibration(std::string_view text, const std::string& file) {
  auto read = read_file(text, file, "calibration", calibration_schema());
  if (!read)
    return read.faults();
  CalibrationFile calibration{std::move(read.value().resist), {}};
  for (const BoardLine& line : read.value().boards)
    calibration.boards.push_back(
        {{line.speed, line.temperature, line.dwell}, line.thickness, line.weighed});
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
