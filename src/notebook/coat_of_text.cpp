#include "seal.hpp"
#include "whirler/files/csv_table.hpp"
#include "whirler/files/pulses_csv.hpp"
#include "whirler/files/schema.hpp"
#include "whirler/notebook/coat_text.hpp"
#include "whirler/notebook/pack.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace whirler::notebook {
namespace {

using namespace files;

constexpr TextLimits kLimits{std::size_t{64} << 20U, 1'000'000};
constexpr double kMostWhole = 9007199254740992.0; // 2^53
constexpr std::size_t kMostItems = 300'000;

// ---- coat.json

/// A text of any length and content.
template <class T>
Field<T> any_text(const std::string& key, std::string T::*member) {
  return custom<T>(key, required, "a text", [=](const Place& place, T& into) {
    if (place.node.type != Node::Type::text)
      return place.refuse("a text");
    into.*member = place.node.text;
    return true;
  });
}

template <class T, class Member>
Field<T> whole(const std::string& key, double low, Member T::*member,
               Member (*make)(std::int64_t)) {
  const std::string allowed = "a whole number";
  return custom<T>(key, required, allowed, [=](const Place& place, T& into) {
    const double value = place.node.number;
    if (place.node.type != Node::Type::number || !(value >= low && value <= kMostWhole) ||
        value != std::floor(value))
      return place.refuse(allowed);
    into.*member = make(static_cast<std::int64_t>(value));
    return true;
  });
}

std::uint64_t as_count(std::int64_t value) { return static_cast<std::uint64_t>(value); }

template <class T>
Field<T> instant(const std::string& key, Instant T::*member) {
  const std::string allowed = "a time such as \"2024-05-01T09:30:00.250Z\"";
  return custom<T>(key, required, allowed, [=](const Place& place, T& into) {
    const auto read = instant_from_text(place.node.text);
    if (place.node.type != Node::Type::text || !read)
      return place.refuse(allowed);
    into.*member = *read;
    return true;
  });
}

bool read_cautions(const Place& place, CoatStart& start) {
  if (place.node.type != Node::Type::array)
    return place.refuse("an array of texts");
  for (std::size_t i = 0; i < place.node.items.size(); ++i) {
    if (place.node.items[i].type != Node::Type::text)
      return place.item(i).refuse("a text");
    start.cautions.push_back(place.node.items[i].text);
  }
  return true;
}

struct Draft : CoatStart {
  std::string uid;
  std::optional<double> pulse_rows; ///< files of earlier programs do not say
  std::optional<double> sample_rows;
  std::string pulses_sha256; ///< likewise
  std::string samples_sha256;
  std::string sha256;
  std::vector<Gap> gaps;
  std::vector<Event> events;
  std::vector<Note> notes;
  std::optional<CoatEnd> end;
};

bool read_uid(const Place& place, Draft& draft) {
  draft.uid = place.node.text;
  const bool good = place.node.type == Node::Type::text && draft.uid.size() == 32 &&
                    draft.uid.find_first_not_of("0123456789abcdef") == std::string::npos;
  return good || place.refuse("32 hexadecimal digits");
}

Field<Draft> rows(const std::string& key, std::optional<double> Draft::*member) {
  const std::string allowed = "a number of rows";
  return custom<Draft>(key, optional, allowed, [=](const Place& place, Draft& draft) {
    draft.*member = place.node.number;
    return place.node.type == Node::Type::number || place.refuse(allowed);
  });
}

Field<Draft> checksum(const std::string& key, std::string Draft::*member) {
  const std::string allowed = "64 hexadecimal digits";
  return custom<Draft>(key, optional, allowed, [=](const Place& place, Draft& draft) {
    draft.*member = place.node.text;
    const bool good = place.node.type == Node::Type::text && place.node.text.size() == 64;
    return good || place.refuse(allowed);
  });
}

Schema<CoatEnd> end_schema() {
  return {{any_text("outcome", &CoatEnd::outcome), any_text("cause", &CoatEnd::cause),
           any_text("verdict", &CoatEnd::verdict), any_text("summary", &CoatEnd::summary),
           whole("length_us", -kMostWhole, &CoatEnd::length, from_us)},
          {},
          {}};
}

bool read_end(const Place& place, Draft& draft) {
  if (place.node.type == Node::Type::null)
    return true;
  CoatEnd end;
  const bool good = read_object(place, end_schema(), end);
  draft.end = std::move(end);
  return good;
}

Schema<KeptFile> file_schema() {
  return {{any_text("role", &KeptFile::role), any_text("name", &KeptFile::name),
           any_text("text", &KeptFile::text)},
          {},
          {}};
}

Schema<Gap> gap_schema() {
  return {
      {whole("before", 0, &Gap::before, as_count), whole("lost", 0, &Gap::lost, as_count)}, {}, {}};
}

Schema<Event> event_schema() {
  return {
      {whole("at_us", -kMostWhole, &Event::at, from_us), any_text("text", &Event::text)}, {}, {}};
}

Schema<Note> note_schema() {
  return {{instant("at", &Note::at), any_text("kind", &Note::kind), any_text("board", &Note::board),
           any_text("resist", &Note::resist), any_text("document", &Note::document)},
          {},
          {}};
}

/// The same field, of an object that is derived from the one it was made for.
template <class T, class Owner>
Field<T> of(Field<Owner> field) {
  return {
      field.key, field.need, field.allowed,
      [read = std::move(field.read)](const Place& place, T& into) { return read(place, into); }};
}

Schema<Draft> coat_schema() {
  const auto start = [](const char* key, std::string CoatStart::*member) {
    return of<Draft>(any_text<CoatStart>(key, member));
  };
  return {{custom<Draft>("uid", required, "32 hexadecimal digits", read_uid),
           of<Draft>(instant("started", &CoatStart::started)),
           start("board", &CoatStart::board),
           start("side", &CoatStart::side),
           start("profile", &CoatStart::profile),
           start("machine", &CoatStart::machine),
           start("resist", &CoatStart::resist),
           start("blank", &CoatStart::blank),
           of<Draft>(flag("simulated", required, &CoatStart::simulated)),
           start("driver", &CoatStart::driver),
           quantity<Draft>("tick_s", required, from_to(0, 1, "s"), &Draft::tick, seconds),
           of<Draft>(integer("marks_per_turn", required, 0, 1024, &CoatStart::marks_per_turn)),
           custom<Draft>("cautions", required, "an array of texts", read_cautions),
           list<Draft>("files", required, 0, 100, file_schema(), &Draft::files),
           rows("pulses", &Draft::pulse_rows),
           rows("samples", &Draft::sample_rows),
           checksum("pulses_sha256", &Draft::pulses_sha256),
           checksum("samples_sha256", &Draft::samples_sha256),
           list<Draft>("gaps", required, 0, kMostItems, gap_schema(), &Draft::gaps),
           list<Draft>("events", required, 0, kMostItems, event_schema(), &Draft::events),
           list<Draft>("notes", optional, 0, kMostItems, note_schema(), &Draft::notes),
           custom<Draft>("end", required, "an object, or null for a coat broken off", read_end),
           checksum("sha256", &Draft::sha256)},
          {},
          {}};
}

// ---- samples.csv

constexpr std::string_view kHeader = "t_s,speed_rpm,target_rpm,drive_clock_s,command,segment";
using Row = std::array<double, 6>;

std::optional<Row> read_row(CsvField line, FaultList& faults) {
  Row row{};
  bool last = false;
  for (std::size_t i = 0; i < row.size(); ++i) {
    const CsvField field = last ? line : CsvTable::next_field(line, last);
    const char* end = field.text.data() + field.text.size();
    const auto [stop, error] = std::from_chars(field.text.data(), end, row[i]);
    const bool good = error == std::errc{} && stop == end && std::abs(row[i]) < 9e9;
    if (!good || last != (i + 1 == row.size())) {
      faults.add(field.at, {.found = field.text.empty() ? "nothing" : shown(field.text),
                            .allowed = "six numbers a row, as in the header"});
      return std::nullopt;
    }
  }
  return row;
}

/// On the notebook's grid, as it was before it was written.
Sample sample_of(const Row& row) {
  return {from_us(to_us(seconds(row[0]))),
          from_mrpm(to_mrpm(rpm(row[1]))),
          from_mrpm(to_mrpm(rpm(row[2]))),
          from_us(to_us(seconds(row[3]))),
          static_cast<double>(to_thousandths(row[4])) / 1000.0,
          static_cast<int>(std::clamp(row[5], -1e9, 1e9))};
}

std::vector<FileFault> read_samples(const std::string& text, const std::string& file,
                                    std::vector<Sample>& samples) {
  FaultList faults(text, file);
  CsvTable table(text);
  CsvField line;
  if (!table.next_line(line) || line.text != kHeader)
    faults.add(0, {.found = shown(line.text), .allowed = "the header " + std::string(kHeader)});
  while (faults.empty() && table.next_line(line))
    if (const auto row = read_row(line, faults))
      samples.push_back(sample_of(*row));
  return std::move(faults).take();
}

// ---- together

/// Gaps stand in the order of the pulses and between them.
bool gaps_fit(const std::vector<Gap>& gaps, std::size_t pulses) {
  const auto in_order = [](const Gap& a, const Gap& b) { return a.before < b.before; };
  return std::is_sorted(gaps.begin(), gaps.end(), in_order) &&
         (gaps.empty() || gaps.back().before <= pulses);
}

/// A fault where a table has not the rows that coat.json says.
void check_rows(const std::optional<double>& said, std::size_t found, const std::string& file,
                std::vector<FileFault>& faults) {
  if (said && *said != static_cast<double>(found))
    faults.push_back({.file = file,
                      .found = std::to_string(found) + " rows",
                      .allowed = "as many as coat.json says: " +
                                 std::to_string(std::llround(std::clamp(*said, 0.0, 1e15))),
                      .next = "take the folder from where it was exported again"});
}

/// What a checksum says of a file. `fits` is none where there is no checksum.
void check_seal(const std::optional<bool>& fits, const std::string& file, const char* pointer,
                std::vector<FileFault>& faults) {
  if (fits.value_or(false))
    return;
  if (fits)
    faults.push_back({.file = file,
                      .found = "a file that was altered after it was exported",
                      .allowed = "what its checksum in coat.json was made of",
                      .next = "export it again; or take it as it is, with --unchecked"});
  else
    faults.push_back({.file = file,
                      .pointer = pointer,
                      .found = "no checksum",
                      .allowed = "\"sha256\" at its end, as every export has it (those of earlier "
                                 "programs had none)",
                      .next = "nobody can say whether it was altered: look through it, and take "
                              "it as it is with --unchecked"});
}

void check_seals(const CoatTexts& texts, const Draft& draft, const std::string& place,
                 std::vector<FileFault>& faults) {
  const auto seal = seal_fits(texts.coat);
  check_seal(seal, place + kCoatFile, "/sha256", faults);
  if (!seal)
    return;
  check_seal(draft.pulses_sha256 == sha256_hex(texts.pulses), place + kPulsesFile, "", faults);
  check_seal(draft.samples_sha256 == sha256_hex(texts.samples), place + kSamplesFile, "", faults);
}

void append(std::vector<FileFault>& all, const std::vector<FileFault>& more) {
  all.insert(all.end(), more.begin(), more.end());
}

} // namespace

files::Read<Coat> coat_of(const CoatTexts& texts, const std::string& folder, BadChecksum bad) {
  const std::string place = folder.empty() || folder.ends_with('/') ? folder : folder + "/";
  std::vector<FileFault> faults;
  Coat coat;
  auto draft = read_file(texts.coat, place + kCoatFile, "coat", coat_schema(), kLimits);
  if (!draft)
    return draft.faults();
  auto pulses = read_pulses(texts.pulses, place + kPulsesFile, {seconds(1), std::nullopt, 0, true});
  if (!pulses)
    append(faults, pulses.faults());
  else if (!gaps_fit(draft->gaps, pulses->size()))
    faults.push_back({.file = place + kCoatFile,
                      .pointer = "/gaps",
                      .found = "gaps that do not fit the pulses",
                      .allowed = "rising places up to the number of pulses"});
  append(faults, read_samples(texts.samples, place + kSamplesFile, coat.samples));
  if (faults.empty()) {
    check_rows(draft->pulse_rows, pulses->size(), place + kPulsesFile, faults);
    check_rows(draft->sample_rows, coat.samples.size(), place + kSamplesFile, faults);
  }
  if (faults.empty() && bad == BadChecksum::refuse)
    check_seals(texts, draft.value(), place, faults);
  if (!faults.empty())
    return faults;
  coat.uid = std::move(draft->uid);
  coat.gaps = std::move(draft->gaps);
  coat.events = std::move(draft->events);
  coat.notes = std::move(draft->notes);
  coat.end = std::move(draft->end);
  coat.state = coat.end ? CoatState::finished : CoatState::broken_off;
  coat.start = static_cast<CoatStart&&>(draft.value());
  coat.pulses = std::move(pulses).value();
  coat.pulses.tick = coat.start.tick;
  return coat;
}

} // namespace whirler::notebook
