#include "coat_reading.hpp"

#include "kept_baseline.hpp"
#include "run_order.hpp"
#include "whirler/files/read.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::cli {
namespace {

/// A share of the top speed that moves no film: it goes as the root of the speed.
constexpr double kHunting = 0.003;

/// A kept file of this role through its reader; a note where it cannot be read any more.
template <class Reader, class Keep>
void read_kept(const notebook::Coat& coat, const std::string& role, CoatReading& reading,
               Reader reader, Keep keep) {
  for (const notebook::KeptFile& file : coat.start.files) {
    if (file.role != role)
      continue;
    const auto read = reader(file.text, file.name);
    if (read)
      keep(*read);
    else
      reading.notes.push_back("The kept " + role +
                              " cannot be read: " + files::to_text(read.faults().front()));
  }
}

void read_files(const notebook::Coat& coat, CoatReading& reading) {
  read_kept(coat, "profile", reading, files::read_profile,
            [&](const profile::Profile& profile) { reading.profile = profile; });
  read_kept(coat, "machine", reading, files::read_machine,
            [&](const machine::Machine& machine) { reading.machine = machine; });
  std::optional<files::ResistFile> resist;
  read_kept(coat, "resist", reading, files::read_resist,
            [&](const files::ResistFile& file) { resist = file; });
  std::vector<film::Board> measured;
  read_kept(coat, "calibration", reading, files::read_calibration,
            [&](const files::CalibrationFile& file) { measured = file.boards; });
  if (resist)
    reading.bottle = bottle_of(*resist, "the kept resist", measured);
  read_kept(coat, "blank", reading, files::read_blank,
            [&](const blank::Blank& blank) { reading.blank = blank; });
  if (!reading.blank)
    return;
  const auto plate = blank::properties(*reading.blank);
  if (!plate) {
    reading.notes.push_back("The kept blank is no plate: " + to_text(plate.fault()));
    return;
  }
  reading.plate = *plate;
  reading.blank->hole.at = plate->axis; // where edge distances said it
  reading.blank->edges.reset();
}

void read_speeds(const notebook::Coat& coat, CoatReading& reading) {
  for (const notebook::Sample& sample : coat.samples) {
    if (!reading.run.empty() && sample.at <= reading.run.back().at)
      continue; // a report that was read twice, or a clock set back
    reading.run.push_back({sample.at, sample.speed});
    reading.asked.push_back({sample.at, sample.target});
  }
}

/// The room as it was, where it was said at the run.
RoomOptions room_of(const notebook::Coat& coat) {
  RoomOptions said;
  for (const notebook::Note& note : coat.notes) {
    if (note.kind != kRoomNote)
      continue;
    const Json room = Json::parse(note.document, nullptr, false);
    if (!room.is_object())
      continue;
    if (const auto at = room.find("temperature_C"); at != room.end() && at->is_number())
      said.temperature = celsius(at->get<double>());
    if (const auto at = room.find("humidity"); at != room.end() && at->is_number())
      said.humidity = at->get<double>();
  }
  return said;
}

/// The speed over the drive's own clock, which times the dwells: this computer's may be late under
/// load, most of all where a simulation is hurried. Over this computer's where the drive has none.
SpeedCurve by_drive_clock(const notebook::Coat& coat, const SpeedCurve& otherwise) {
  SpeedCurve curve;
  for (const notebook::Sample& sample : coat.samples) {
    const Duration at = sample.drive_clock - coat.samples.front().drive_clock;
    if (curve.empty() || at > curve.back().at)
      curve.push_back({at, sample.speed});
  }
  return 2 * curve.size() < otherwise.size() ? otherwise : curve;
}

/// The question that `film` asks, of the speed as it was run instead of the profile's.
FilmQuestion film_question(const notebook::Coat& coat, const CoatReading& reading) {
  FilmQuestion question;
  if (reading.profile)
    if (auto planned = profile::timeline(*reading.profile))
      question.timeline = std::move(planned).value();
  question.timeline.curve = simplified(by_drive_clock(coat, reading.run),
                                       std::max(rpm(3.0), kHunting * reading.top_speed()));
  question.bottle = *reading.bottle;
  question.plate.blank = reading.blank;
  question.plate.properties = reading.plate;
  question.plate.machine = reading.machine;
  question.air = air_of(reading.room, reading.bottle->resist.viscosity_at, // as speed and film do
                        reading.machine ? std::optional(reading.machine->air) : std::nullopt);
  return question;
}

void read_film(const notebook::Coat& coat, CoatReading& reading) {
  if (!reading.bottle || reading.run.size() < 2)
    return;
  auto answer = answer_to(film_question(coat, reading));
  if (answer)
    reading.film = std::move(answer).value();
  else
    reading.notes.push_back("The film cannot be estimated: " + to_text(answer.fault()));
}

void read_jitter(const notebook::Coat& coat, CoatReading& reading) {
  if (reading.machine)
    reading.spinner = spinner_model(*reading.machine, reading.plate);
  if (coat.start.marks_per_turn > 0)
    reading.spinner.marks_per_turn = coat.start.marks_per_turn;
  if (coat.pulses.size() == 0)
    return;
  tach::Recording recording{coat.pulses, kept_baseline(coat, reading.notes), reading.spinner,
                            reading.asked};
  recording.pulses.tick = coat.start.tick;
  auto analysis = tach::analyse(recording);
  if (analysis)
    reading.jitter = std::move(analysis).value();
  else
    reading.notes.push_back("The pulses cannot be read: " + to_text(analysis.fault()));
}

} // namespace

Speed CoatReading::top_speed() const {
  Speed top;
  for (const SpeedPoint& p : run)
    top = std::max(top, p.speed);
  return top;
}

Speed CoatReading::spun_at() const {
  constexpr double kTop = 0.999;
  constexpr Duration kSettles = seconds(1.0);
  Speed top;
  for (const SpeedPoint& p : asked)
    top = std::max(top, p.speed);
  std::optional<Duration> reached;
  Speed sum;
  double count = 0.0;
  for (std::size_t i = 0; i < asked.size(); ++i) {
    if (asked[i].speed < kTop * top)
      continue;
    reached = reached.value_or(asked[i].at);
    if (asked[i].at < *reached + kSettles)
      continue;
    sum += run[i].speed;
    count += 1.0;
  }
  return count > 0.0 ? sum / count : top_speed();
}

CoatReading read_coat_film(const notebook::Coat& coat) {
  CoatReading reading;
  read_files(coat, reading);
  read_speeds(coat, reading);
  reading.room = room_of(coat);
  read_film(coat, reading);
  reading.pour = pour_record(coat.notes);
  if (reading.film)
    reading.lying = SideFilm{reading.film->film, reading.film->course.is_set};
  if (reading.pour)
    reading.lying = film_over(reading.pour->over, reading.lying);
  return reading;
}

CoatReading read_coat_jitter(const notebook::Coat& coat) {
  CoatReading reading;
  read_files(coat, reading);
  read_speeds(coat, reading);
  read_jitter(coat, reading);
  return reading;
}

CoatReading read_coat(const notebook::Coat& coat) {
  CoatReading reading = read_coat_film(coat);
  read_jitter(coat, reading);
  return reading;
}

} // namespace whirler::cli
