#include "whirler/notebook/coat_text.hpp"

#include "seal.hpp"
#include "whirler/notebook/pack.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cstdlib>

namespace whirler::notebook {
namespace {

using Json = nlohmann::ordered_json;

/// A count of units as a decimal number: 2000051 thousandths -> "2000.051".
std::string decimal(std::int64_t count, std::int64_t per_one, std::size_t digits) {
  const std::string fraction = std::to_string(std::abs(count % per_one));
  return (count < 0 ? "-" : "") + std::to_string(std::abs(count / per_one)) + "." +
         std::string(digits - fraction.size(), '0') + fraction;
}

std::string us_text(Duration time) { return decimal(to_us(time), 1'000'000, 6); }
std::string mrpm_text(Speed speed) { return decimal(to_mrpm(speed), 1000, 3); }

Json files_json(const std::vector<KeptFile>& files) {
  Json all = Json::array();
  for (const KeptFile& file : files)
    all.push_back({{"role", file.role}, {"name", file.name}, {"text", file.text}});
  return all;
}

Json events_json(const std::vector<Event>& events) {
  Json all = Json::array();
  for (const Event& event : events)
    all.push_back({{"at_us", to_us(event.at)}, {"text", event.text}});
  return all;
}

Json notes_json(const std::vector<Note>& notes) {
  Json all = Json::array();
  for (const Note& note : notes)
    all.push_back({{"at", instant_text(note.at)},
                   {"kind", note.kind},
                   {"board", note.board},
                   {"resist", note.resist},
                   {"document", note.document}});
  return all;
}

Json gaps_json(const std::vector<Gap>& gaps) {
  Json all = Json::array();
  for (const Gap& gap : gaps)
    all.push_back({{"before", gap.before}, {"lost", gap.lost}});
  return all;
}

Json end_json(const std::optional<CoatEnd>& end) {
  if (!end)
    return nullptr;
  return {{"outcome", end->outcome},
          {"cause", end->cause},
          {"verdict", end->verdict},
          {"summary", end->summary},
          {"length_us", to_us(end->length)}};
}

std::string coat_json(const Coat& coat, const CoatTexts& tables) {
  const CoatStart& start = coat.start;
  const Json document{{"kind", "coat"},
                      {"format", 1},
                      {"uid", coat.uid},
                      {"started", instant_text(start.started)},
                      {"board", start.board},
                      {"side", start.side},
                      {"profile", start.profile},
                      {"machine", start.machine},
                      {"resist", start.resist},
                      {"blank", start.blank},
                      {"simulated", start.simulated},
                      {"driver", start.driver},
                      {"tick_s", start.tick.s()},
                      {"marks_per_turn", start.marks_per_turn},
                      {"cautions", start.cautions},
                      {"files", files_json(start.files)},
                      {"pulses", coat.pulses.size()},
                      {"samples", coat.samples.size()},
                      {"pulses_sha256", sha256_hex(tables.pulses)},
                      {"samples_sha256", sha256_hex(tables.samples)},
                      {"gaps", gaps_json(coat.gaps)},
                      {"events", events_json(coat.events)},
                      {"notes", notes_json(coat.notes)},
                      {"end", end_json(coat.end)},
                      {"sha256", ""}};
  return sealed(document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n");
}

std::string pulses_csv(const tach::PulseTrain& train) {
  const bool marks = std::any_of(train.marks.begin(), train.marks.end(),
                                 [](std::int16_t mark) { return mark >= 0; });
  std::string text = marks ? "ticks,mark\n" : "ticks\n";
  for (std::size_t i = 0; i < train.size(); ++i) {
    text += std::to_string(train.ticks[i]);
    if (marks)
      text += "," + (train.marks[i] < 0 ? std::string() : std::to_string(train.marks[i]));
    text += "\n";
  }
  return text;
}

std::string samples_csv(const std::vector<Sample>& samples) {
  std::string text = "t_s,speed_rpm,target_rpm,drive_clock_s,command,segment\n";
  for (const Sample& sample : samples) {
    text += us_text(sample.at) + "," + mrpm_text(sample.speed) + "," + mrpm_text(sample.target);
    text += "," + us_text(sample.drive_clock) + ",";
    text += decimal(to_thousandths(sample.command), 1000, 3) + ",";
    text += std::to_string(sample.segment) + "\n";
  }
  return text;
}

} // namespace

CoatTexts texts_of(const Coat& coat) {
  CoatTexts texts{"", pulses_csv(coat.pulses), samples_csv(coat.samples)};
  texts.coat = coat_json(coat, texts);
  return texts;
}

} // namespace whirler::notebook
