#include "coat_reading.hpp"

#include "whirler/files/read.hpp"
#include "whirler/film/uncertainty.hpp"

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
  read_kept(coat, "resist", reading, files::read_resist,
            [&](const files::ResistFile& file) { reading.resist = file.resist; });
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
  reading.blank->hole.at = plate->axis;
}

void read_speeds(const notebook::Coat& coat, CoatReading& reading) {
  for (const notebook::Sample& sample : coat.samples) {
    if (!reading.run.empty() && sample.at <= reading.run.back().at)
      continue; // a report that was read twice, or a clock set back
    reading.run.push_back({sample.at, sample.speed});
    reading.asked.push_back({sample.at, sample.target});
  }
}

film::Cover cover_of(machine::Air air) {
  switch (air) {
  case machine::Air::lidded:
    return film::Cover::lidded;
  case machine::Air::vented:
    return film::Cover::vented;
  case machine::Air::open:
    break;
  }
  return film::Cover::open;
}

film::Environment environment_of(const CoatReading& reading) {
  film::Environment environment;
  if (reading.machine)
    environment.air.cover = cover_of(reading.machine->air);
  if (reading.plate) {
    environment.plate.heat.capacity = blank::heat_capacity(*reading.blank);
    environment.plate.radius = reading.plate->corner_radius;
    if (!std::holds_alternative<blank::Disc>(reading.blank->outline))
      environment.plate.nearest = reading.plate->nearest_edge;
  }
  return environment;
}

void read_film(CoatReading& reading) {
  if (!reading.resist || reading.run.size() < 2)
    return;
  const film::Environment environment = environment_of(reading);
  const SpeedCurve curve =
      simplified(reading.run, std::max(rpm(3.0), kHunting * reading.top_speed()));
  const auto result = film::estimate(*reading.resist, curve, environment);
  const auto forecast = film::forecast(*reading.resist, curve, environment,
                                       film::label_spreads(*reading.resist, environment));
  if (result && forecast)
    reading.film = FilmReading{*result, forecast->film, film::Model::thinning};
  else
    reading.notes.push_back("The film cannot be estimated: " +
                            to_text(result ? forecast.fault() : result.fault()));
}

/// The knot between two others that lies farthest from the straight line through them.
std::size_t farthest_knot(const SpeedCurve& curve, std::size_t from, std::size_t to, double& off) {
  std::size_t worst = from;
  off = 0.0;
  const double span = (curve[to].at - curve[from].at).s();
  for (std::size_t i = from + 1; i < to; ++i) {
    const double share = (curve[i].at - curve[from].at).s() / span;
    const Speed straight = curve[from].speed + share * (curve[to].speed - curve[from].speed);
    const double miss = std::abs((curve[i].speed - straight).rpm());
    if (miss > off) {
      off = miss;
      worst = i;
    }
  }
  return worst;
}

} // namespace

Speed CoatReading::top_speed() const {
  Speed top;
  for (const SpeedPoint& p : run)
    top = std::max(top, p.speed);
  return top;
}

SpeedCurve simplified(const SpeedCurve& curve, Speed tolerance) {
  if (curve.size() < 3)
    return curve;
  std::vector<bool> kept(curve.size(), false);
  kept.front() = kept.back() = true;
  std::vector<std::pair<std::size_t, std::size_t>> pieces{{0, curve.size() - 1}};
  while (!pieces.empty()) {
    const auto [from, to] = pieces.back();
    pieces.pop_back();
    double off = 0.0;
    const std::size_t worst = farthest_knot(curve, from, to, off);
    if (off <= tolerance.rpm())
      continue;
    kept[worst] = true;
    pieces.emplace_back(from, worst);
    pieces.emplace_back(worst, to);
  }
  SpeedCurve made;
  for (std::size_t i = 0; i < curve.size(); ++i)
    if (kept[i])
      made.push_back(curve[i]);
  return made;
}

CoatReading read_coat(const notebook::Coat& coat) {
  CoatReading reading;
  read_files(coat, reading);
  read_speeds(coat, reading);
  read_film(reading);
  return reading;
}

} // namespace whirler::cli
