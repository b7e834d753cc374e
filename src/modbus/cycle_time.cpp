#include "whirler/modbus/cycle_time.hpp"

#include "whirler/modbus/frame.hpp"
#include "whirler/units/text.hpp"

#include <algorithm>
#include <array>

namespace whirler::modbus {
namespace {

/// A question and its answer, with the silence before each.
Duration exchange(const Request& request, const LineFormat& line) {
  return line.time_of(encode(request).size() + reply_size(request)) + 2.0 * silence(line);
}

Duration reading(const Cell& cell, const LineFormat& line) {
  return exchange(read_request(1, cell.function, cell.address, cell.count()), line);
}

bool has_own_status(const Description& drive) {
  return drive.running && !(drive.running->cell == drive.fault.cell);
}

std::string ms_text(Duration time) { return number_text(time.ms(), 3) + " ms"; }

} // namespace

int reads_a_cycle(const Description& drive) { return has_own_status(drive) ? 3 : 2; }

Duration line_time_of_reads(const Description& drive, const LineFormat& line) {
  const Duration both = reading(drive.actual.cell, line) + reading(drive.fault.cell, line);
  return has_own_status(drive) ? both + reading(drive.running->cell, line) : both;
}

Duration line_time_of_cycle(const Description& drive, const LineFormat& line) {
  const auto& cell = drive.target.cell;
  const std::vector<std::uint16_t> words(cell.count());
  return exchange(write_request(1, cell.function, cell.address, words), line) +
         line_time_of_reads(drive, line);
}

Duration longest_cycle(const Description& drive) {
  if (!drive.slope || !drive.dead_man)
    return kLongestStreamed;
  return std::min(kLongestSloped, drive.dead_man->time);
}

std::optional<int> enough_baud(const Description& drive, LineFormat line, Duration answers) {
  constexpr std::array<int, 8> kUsual{1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200};
  for (const int baud : kUsual) {
    line.baud = baud;
    if (line_time_of_cycle(drive, line) + answers <= longest_cycle(drive))
      return baud;
  }
  return std::nullopt;
}

std::optional<CycleWords> long_cycle(const Description& drive, const LineFormat& line,
                                     Duration answers) {
  const Duration of_line = line_time_of_cycle(drive, line);
  const Duration whole = of_line + answers;
  const Duration most = longest_cycle(drive);
  if (whole <= kLongCycle)
    return std::nullopt;
  CycleWords words;
  words.too_long = whole > most;
  words.what = "a cycle (target told; speed, fault and status read) takes " +
               std::string(answers > Duration{} ? "" : "at least ") + ms_text(whole) + ", " +
               ms_text(of_line) + " of it the line's own at " + std::to_string(line.baud) +
               " baud; ";
  words.what +=
      words.too_long
          ? "at most " + ms_text(most) + " is allowed" +
                (drive.slope ? "" : " where the ramp is told step by step (no \"slope\")")
          : std::string("steps end, and faults and wrong speeds are seen, up to that much late");
  const auto enough = enough_baud(drive, line, answers);
  if (enough && *enough > line.baud)
    words.next =
        "raise \"baud\", here and in the drive, to " + std::to_string(*enough) + " or more";
  else if (of_line > answers)
    words.next = "raise \"baud\", here and in the drive";
  else
    words.next = "shorten the answer delay in the drive's own menu";
  if (words.too_long && !drive.slope)
    words.next += "; or describe the drive's own ramp as \"slope\", if it has one";
  return words;
}

} // namespace whirler::modbus
