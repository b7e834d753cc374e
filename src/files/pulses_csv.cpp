#include "whirler/files/pulses_csv.hpp"

#include "whirler/files/csv_table.hpp"
#include "whirler/files/fault_list.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <limits>

namespace whirler::files {
namespace {

constexpr std::int64_t kPicosecondsPerSecond = 1'000'000'000'000;
constexpr int kDigitsOfPicosecond = 12;
constexpr std::int64_t kMostSecondsAsPicoseconds = 9'000'000; // 2^63 ps is 9.2e6 s
constexpr std::int64_t kMostSeconds = 9'000'000'000;          // 2^63 ns is 9.2e9 s
constexpr int kMostMark = 1023;

// ---- times

struct Time {
  std::int64_t seconds = 0;
  std::int64_t picoseconds = 0; ///< 0 up to one second; the time is the sum
};

Time carried(Time time) {
  if (time.picoseconds == kPicosecondsPerSecond)
    return {time.seconds + 1, 0};
  return time;
}

Time negated(Time time) {
  if (time.picoseconds == 0)
    return {-time.seconds, 0};
  return {-time.seconds - 1, kPicosecondsPerSecond - time.picoseconds};
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// "12.0345" digit by digit: exact to the picosecond, rounded past it. False for anything else.
bool read_decimal(std::string_view text, Time& time) {
  std::size_t i = 0;
  for (; i < text.size() && is_digit(text[i]) && time.seconds <= kMostSeconds; ++i)
    time.seconds = time.seconds * 10 + (text[i] - '0');
  const std::size_t whole = i;
  std::size_t fraction = 0;
  if (i < text.size() && text[i] == '.') {
    for (++i; i < text.size() && is_digit(text[i]); ++i, ++fraction) {
      if (fraction < kDigitsOfPicosecond)
        time.picoseconds = time.picoseconds * 10 + (text[i] - '0');
      else if (fraction == kDigitsOfPicosecond && text[i] >= '5')
        ++time.picoseconds;
    }
  }
  for (std::size_t digits = fraction; digits < kDigitsOfPicosecond; ++digits)
    time.picoseconds *= 10;
  time = carried(time);
  return i == text.size() && whole + fraction > 0;
}

/// Any other way to write a number: "1.5e-3".
bool read_floating(std::string_view text, Time& time) {
  double value = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value) ||
      std::abs(value) > static_cast<double>(kMostSeconds))
    return false;
  const double whole = std::floor(value);
  time = carried({static_cast<std::int64_t>(whole), std::llround((value - whole) * 1e12)});
  return true;
}

bool read_time(std::string_view text, Time& time) {
  const bool negative = text.starts_with('-');
  const std::string_view size = text.substr(negative || text.starts_with('+') ? 1 : 0);
  if (read_decimal(size, time)) {
    if (negative)
      time = negated(time);
    return time.seconds <= kMostSeconds;
  }
  const bool two_signs = size.starts_with('-') || size.starts_with('+');
  return !two_signs && read_floating(negative ? text : size, time);
}

/// Ticks of a nanosecond, or of a picosecond where digits stand below it and the times fit.
tach::PulseTrain train_of_times(const std::vector<Time>& times) {
  bool finer = false;
  bool fits = true;
  for (const Time& time : times) {
    finer = finer || time.picoseconds % 1000 != 0;
    fits = fits && std::abs(time.seconds) <= kMostSecondsAsPicoseconds;
  }
  const std::int64_t divisor = finer && fits ? 1 : 1000;
  tach::PulseTrain train;
  train.tick = seconds(divisor == 1 ? 1e-12 : 1e-9);
  train.ticks.reserve(times.size());
  for (const Time& time : times)
    train.ticks.push_back(time.seconds * (kPicosecondsPerSecond / divisor) +
                          (time.picoseconds + divisor / 2) / divisor);
  return train;
}

// ---- a counter's wrap

/// How far forward each reading is from the one before it, on a counter of `turn` ticks around.
std::int64_t forward(std::int64_t from, std::int64_t to, std::int64_t turn) {
  const std::int64_t step = to - from;
  return step < 0 ? step + turn : step;
}

/// A typical first interval, so that a pulse out of order at the start does not set the measure.
std::int64_t first_interval(const std::vector<std::int64_t>& readings, std::int64_t turn) {
  constexpr std::size_t kLooked = 64;
  std::vector<std::int64_t> steps;
  for (std::size_t i = 1; i < std::min(readings.size(), kLooked); ++i)
    steps.push_back(forward(readings[i - 1], readings[i], turn));
  if (steps.empty())
    return 0;
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

/// Years of any timer in use, and a sum of ticks still fits after it: two readings of a 62-bit
/// counter do not always.
constexpr std::int64_t kLongestRecord = std::int64_t{1} << 57U;

/// None where the readings make a record longer than kLongestRecord.
std::optional<std::vector<std::int64_t>> unwrapped(const std::vector<std::int64_t>& readings,
                                                   std::int64_t turn, std::size_t& wraps) {
  std::vector<std::int64_t> ticks;
  ticks.reserve(readings.size());
  // Of the last few: a doubled pulse leaves an interval beside which any step back is long.
  std::array<std::int64_t, 5> last{};
  last.fill(first_interval(readings, turn));
  std::size_t seen = 0;
  std::int64_t latest = last.front(); // beside a missing pulse a step back may be as long as it
  const auto usual = [&] {
    auto sorted = last;
    std::nth_element(sorted.begin(), sorted.begin() + 2, sorted.end());
    return sorted[2];
  };
  std::int64_t now = readings.empty() ? 0 : readings.front();
  for (std::size_t i = 0; i < readings.size(); ++i) {
    if (i > 0) {
      const std::int64_t ahead = forward(readings[i - 1], readings[i], turn);
      const std::int64_t back = turn - ahead;
      const std::int64_t interval = usual();
      const bool out_of_order = ahead / 3 > interval && back / 3 <= std::max(interval, latest) / 2;
      now += out_of_order ? -back : ahead;
      wraps += !out_of_order && readings[i] < readings[i - 1] ? 1 : 0;
      if (!out_of_order && ahead > 0)
        last[seen++ % last.size()] = latest = ahead;
      if (std::abs(now - readings.front()) > kLongestRecord)
        return std::nullopt;
    }
    ticks.push_back(now);
  }
  return ticks;
}

// ---- the table

enum class Column { time, ticks, mark };

class PulsesReader {
 public:
  PulsesReader(std::string_view text, const std::string& file, const PulsesFormat& format)
      : table_(text), faults_(text, file), format_(format) {}

  Read<tach::PulseTrain> read() {
    if (read_header())
      read_rows();
    if (faults_.empty() && rows() < format_.least)
      refuse({"", 0}, std::to_string(rows()) + " pulses",
             std::to_string(format_.least) + " pulses or more",
             "record for longer; check the sensor and its wiring");
    tach::PulseTrain made = faults_.empty() ? train() : tach::PulseTrain{};
    if (!faults_.empty())
      return std::move(faults_).take();
    return made;
  }

 private:
  bool refuse(const CsvField& field, std::string found, std::string allowed,
              std::string next = "") {
    faults_.add(
        field.at,
        {.found = std::move(found), .allowed = std::move(allowed), .next = std::move(next)});
    return false;
  }
  [[nodiscard]] std::size_t rows() const { return std::max(times_.size(), readings_.size()); }
  [[nodiscard]] bool has(Column column) const {
    return std::find(columns_.begin(), columns_.end(), column) != columns_.end();
  }

  bool read_header();
  bool add_column(const CsvField& name);
  bool check_columns(const CsvField& line);
  void read_rows();
  void read_row(CsvField line);
  void refuse_width(const CsvField& place, std::string found);
  bool read_field(Column column, const CsvField& field);
  bool read_ticks(const CsvField& field);
  bool read_mark(const CsvField& field);
  tach::PulseTrain train();

  CsvTable table_;
  FaultList faults_;
  PulsesFormat format_;
  std::vector<Column> columns_;
  std::vector<Time> times_;
  std::vector<std::int64_t> readings_;
  std::vector<std::int16_t> marks_;
  std::int64_t most_ticks_ = std::numeric_limits<std::int64_t>::max();
};

bool PulsesReader::add_column(const CsvField& name) {
  const std::string allowed = "columns t_s or ticks, and mark";
  Column column = Column::mark;
  if (name.text == "t_s")
    column = Column::time;
  else if (name.text == "ticks")
    column = Column::ticks;
  else if (name.text != "mark")
    return refuse(name, name.text.empty() ? "a column without a name" : shown(name.text), allowed,
                  "the first row names the columns, separated by commas");
  if (has(column))
    return refuse(name, shown(name.text) + " a second time", "each column once");
  columns_.push_back(column);
  return true;
}

bool PulsesReader::check_columns(const CsvField& line) {
  const bool ticks = has(Column::ticks);
  if (ticks == has(Column::time))
    return refuse(line, ticks ? "both t_s and ticks" : "no column of times", "t_s or ticks",
                  ticks ? "take one of them out" : "name the column of times in the first row");
  if (ticks && !(format_.tick && format_.tick->is_finite() && format_.tick->s() > 0.0))
    return refuse(line, "ticks, but no length of a tick", "a tick above 0",
                  "give it with --tick, as in --tick 0.5us");
  if (!ticks || !format_.tick_bits)
    return true;
  if (*format_.tick_bits < 8 || *format_.tick_bits > 62)
    return refuse(line, "a counter of " + std::to_string(*format_.tick_bits) + " bits",
                  "8 to 62 bits", "leave --tick-bits out for a counter that never wraps");
  most_ticks_ = (std::int64_t{1} << *format_.tick_bits) - 1;
  return true;
}

bool PulsesReader::read_header() {
  CsvField line{};
  if (!table_.next_line(line) || is_empty(line))
    return refuse(line, "no header", "a first row that names the columns", "as in: t_s,mark");
  const CsvField whole = line;
  bool good = true;
  for (bool last = false; !last && !faults_.full();)
    good = add_column(CsvTable::next_field(line, last)) && good;
  return good && check_columns(whole);
}

void PulsesReader::read_rows() {
  CsvField line{};
  std::optional<CsvField> empty;
  while (!faults_.full() && table_.next_line(line)) {
    if (is_empty(line)) {
      empty = empty ? empty : line;
      continue;
    }
    if (empty)
      refuse(*empty, "an empty line", "a row a pulse; empty lines only at the end");
    empty.reset();
    read_row(line);
  }
}

void PulsesReader::read_row(CsvField line) {
  const CsvField whole = line;
  bool last = false;
  for (const Column column : columns_) {
    if (last)
      return refuse_width(whole, "a row that ends early");
    if (!read_field(column, CsvTable::next_field(line, last)))
      return;
  }
  if (!last)
    refuse_width(line, shown(line.text));
}

void PulsesReader::refuse_width(const CsvField& place, std::string found) {
  refuse(place, std::move(found),
         std::to_string(columns_.size()) + " fields a row, as in the header",
         "write numbers with a decimal point, and a comma only between columns");
}

bool PulsesReader::read_field(Column column, const CsvField& field) {
  if (column == Column::ticks)
    return read_ticks(field);
  if (column == Column::mark)
    return read_mark(field);
  if (read_time(field.text, times_.emplace_back()))
    return true;
  return refuse(field, field.text.empty() ? "nothing" : shown(field.text),
                "a time in seconds within 9e9 s, with a decimal point");
}

template <class Int>
bool read_whole(std::string_view text, Int& value) {
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc{} && end == text.data() + text.size();
}

bool PulsesReader::read_ticks(const CsvField& field) {
  std::int64_t& value = readings_.emplace_back();
  if (read_whole(field.text, value) && (!format_.tick_bits || (value >= 0 && value <= most_ticks_)))
    return true;
  const std::string most = " from 0 to " + std::to_string(most_ticks_);
  return refuse(field, field.text.empty() ? "nothing" : shown(field.text),
                "a whole number of ticks" + (format_.tick_bits ? most : ""),
                format_.tick_bits ? "check --tick-bits" : "");
}

bool PulsesReader::read_mark(const CsvField& field) {
  int value = -1;
  if (field.text.empty() && format_.unknown_marks) {
    marks_.push_back(-1);
    return true;
  }
  if (!read_whole(field.text, value) || value < 0 || value > kMostMark)
    return refuse(field, field.text.empty() ? "nothing" : shown(field.text),
                  "a mark's number from 0 to 1023");
  marks_.push_back(static_cast<std::int16_t>(value));
  return true;
}

tach::PulseTrain PulsesReader::train() {
  tach::PulseTrain train;
  if (has(Column::time)) {
    train = train_of_times(times_);
  } else {
    train.tick = *format_.tick;
    auto ticks = format_.tick_bits ? unwrapped(readings_, most_ticks_ + 1, train.wraps)
                                   : std::optional(std::move(readings_));
    if (ticks)
      train.ticks = *std::move(ticks);
    else
      refuse({"", 0}, "readings that go round the counter again and again",
             "a record of at most 2^57 ticks", "check --tick-bits, and that the rows are in order");
  }
  train.marks = std::move(marks_);
  return train;
}

} // namespace

Read<tach::PulseTrain> read_pulses(std::string_view text, const std::string& file,
                                   const PulsesFormat& format) {
  return PulsesReader(text, file, format).read();
}

} // namespace whirler::files
