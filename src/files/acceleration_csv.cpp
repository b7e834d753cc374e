#include "whirler/files/acceleration_csv.hpp"

#include "whirler/files/csv_table.hpp"
#include "whirler/files/fault_list.hpp"
#include "whirler/units/text.hpp"

#include <optional>

namespace whirler::files {
namespace {

constexpr std::size_t kFewest = 5;

class AccelerationReader {
 public:
  AccelerationReader(std::string_view text, const std::string& file)
      : table_(text), faults_(text, file) {}

  Read<tach::AccelerationTrack> read() {
    CsvField line;
    if (!table_.next_line(line))
      refuse({"", 0}, "no header", "a first row t_s,accel_m_s2");
    else if (read_header(line))
      while (!faults_.full() && table_.next_line(line))
        if (!is_empty(line))
          read_row(line);
    if (faults_.empty() && track_.at.size() < kFewest)
      refuse({"", 0}, std::to_string(track_.at.size()) + " samples", "5 samples or more");
    if (!faults_.empty())
      return std::move(faults_).take();
    return std::move(track_);
  }

 private:
  void refuse(const CsvField& field, std::string found, std::string allowed) {
    faults_.add(field.at, {.found = std::move(found), .allowed = std::move(allowed)});
  }

  bool read_header(CsvField line) {
    constexpr const char* kAllowed = "the columns t_s and accel_m_s2, each once";
    const CsvField whole = line;
    bool last = false;
    const CsvField first = CsvTable::next_field(line, last);
    const CsvField second = last ? CsvField{} : CsvTable::next_field(line, last);
    time_first_ = first.text == "t_s";
    const bool good = last && (time_first_ ? second.text == "accel_m_s2"
                                           : first.text == "accel_m_s2" && second.text == "t_s");
    if (!good)
      refuse(whole, shown(whole.text), kAllowed);
    return good;
  }

  std::optional<double> number(const CsvField& field) {
    const auto value = parse_number(field.text);
    if (value)
      return *value;
    refuse(field, field.text.empty() ? "nothing" : shown(field.text), "a number");
    return std::nullopt;
  }

  void read_row(CsvField line) {
    const CsvField whole = line;
    bool last = false;
    const CsvField first = CsvTable::next_field(line, last);
    if (last)
      return refuse(whole, "one field", "two fields");
    const CsvField second = CsvTable::next_field(line, last);
    if (!last)
      return refuse(whole, "more than two fields", "two fields");
    const auto time = number(time_first_ ? first : second);
    const auto value = number(time_first_ ? second : first);
    if (!time || !value)
      return;
    if (!track_.at.empty() && !(seconds(*time) > track_.at.back()))
      return refuse(time_first_ ? first : second, shown((time_first_ ? first : second).text),
                    "a time after the one before it");
    track_.at.push_back(seconds(*time));
    track_.m_s2.push_back(*value);
  }

  CsvTable table_;
  FaultList faults_;
  tach::AccelerationTrack track_;
  bool time_first_ = true;
};

} // namespace

Read<tach::AccelerationTrack> read_acceleration(std::string_view text, const std::string& file) {
  return AccelerationReader(text, file).read();
}

} // namespace whirler::files
