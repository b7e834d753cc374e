#include "trend_page.hpp"

#include "film_agreement.hpp"

#include <algorithm>

namespace whirler::cli {
namespace {

using report::Headline;
using report::Section;
using report::Tone;

/// Coats that belong together, in the order in which their group first came up.
struct Group {
  std::string name;
  std::vector<TrendCoat> coats;
};

std::vector<Group> grouped(std::span<const TrendCoat> coats, std::string TrendCoat::*by) {
  std::vector<Group> groups;
  for (const TrendCoat& coat : coats) {
    const auto known = std::find_if(groups.begin(), groups.end(),
                                    [&](const Group& group) { return group.name == coat.*by; });
    if (known == groups.end())
      groups.push_back({coat.*by, {coat}});
    else
      known->coats.push_back(coat);
  }
  return groups;
}

std::string interval_text(double low, double high) {
  return number_text(low) + " to " + number_text(high);
}

std::string thickness_text(const std::optional<Length>& length) {
  return length ? number_text(length->um()) : "";
}

bool any_measured(std::span<const TrendCoat> coats) {
  return std::any_of(coats.begin(), coats.end(),
                     [](const TrendCoat& coat) { return coat.thickness.measured.has_value(); });
}

/// Why no factor follows.
std::string nothing_taught(std::span<const TrendCoat> coats) {
  return any_measured(coats)
             ? "What was measured stands against no estimate: the side was poured more than "
               "once, or the coat kept no resist."
             : "No coat of it was measured yet: whirler note COAT --measured T keeps what a "
               "gauge reads.";
}

std::optional<Section> film_section(const Group& group, report::CoatSpan all) {
  std::vector<report::FilmOfCoat> films;
  for (const TrendCoat& coat : group.coats)
    if (coat.estimated || coat.thickness.wanted || coat.thickness.measured)
      films.push_back(
          {coat.number, coat.thickness.wanted, coat.estimated, coat.thickness.measured});
  if (films.empty())
    return std::nullopt;
  Section section{group.name.empty() ? "Film, resist not named" : "Film of " + group.name,
                  {},
                  {},
                  {draw(report::film_trend(films, all))}};
  const auto factors = factors_of(group.coats);
  if (factors.empty()) {
    section.lines = {nothing_taught(group.coats)};
    return section;
  }
  const report::FactorOfCoat& last = factors.back();
  section.facts = {{"Measured coats", std::to_string(factors.size())},
                   {"Factor on the estimates", number_text(last.factor) + " (95 %: " +
                                                   interval_text(last.low, last.high) + ")"}};
  section.drawings.push_back(draw(report::factor_trend(factors, all)));
  return section;
}

std::optional<Section> jitter_section(const Group& group, report::CoatSpan all) {
  std::vector<report::JitterOfCoat> figures;
  for (const TrendCoat& coat : group.coats)
    if (coat.jitter)
      figures.push_back(*coat.jitter);
  if (figures.empty())
    return std::nullopt;
  return Section{group.name.empty() ? "Vibration, machine not named" : "Vibration on " + group.name,
                 {},
                 {},
                 {draw(report::jitter_trend(figures, all))}};
}

/// What was estimated, or why nothing lies there.
std::string estimate_text(const TrendCoat& coat) {
  if (coat.fate != Fate::lies)
    return fate_kind(coat.fate);
  return coat.estimated ? number_text(coat.estimated->thickness.um()) : "";
}

Section coats_section(std::span<const TrendCoat> coats) {
  Section section{"The coats", {}, {}, {}};
  section.lines = {"Thickness of the dry film in \u00B5m. Vibration once per turn in mrad and its "
                   "verdict are those of the run itself; a coat's own page reads its pulses anew."};
  section.table.header = {"Coat",      "Date",     "Board",     "Side",   "Wanted",
                          "Estimated", "Measured", "Vibration", "Verdict"};
  for (const TrendCoat& coat : coats) {
    std::string verdict = coat.verdict;
    std::replace(verdict.begin(), verdict.end(), '_', ' ');
    section.table.rows.push_back(
        {std::to_string(coat.number), notebook::instant_text(coat.started).substr(0, 10),
         coat.board, coat.side, thickness_text(coat.thickness.wanted), estimate_text(coat),
         thickness_text(coat.thickness.measured),
         coat.jitter ? number_text(coat.jitter->amplitude.mrad()) : "", verdict});
  }
  return section;
}

/// "Cannot tell: coats 4, 7 and 9."; of many the first few and how many more; empty for none.
std::string named(const std::string& what, std::span<const TrendCoat> coats,
                  const std::string& verdict) {
  constexpr std::size_t kMost = 6;
  std::vector<std::string> numbers;
  for (const TrendCoat& coat : coats)
    if (coat.verdict == verdict)
      numbers.push_back(std::to_string(coat.number));
  if (numbers.empty())
    return "";
  const std::size_t more = numbers.size() > kMost ? numbers.size() - kMost : 0;
  numbers.resize(numbers.size() - more);
  if (more > 0)
    numbers.push_back(std::to_string(more) + " more");
  std::string text = " " + what + (numbers.size() > 1 ? ": coats " : ": coat ") + numbers.front();
  for (std::size_t i = 1; i < numbers.size(); ++i)
    text += (i + 1 == numbers.size() ? " and " : ", ") + numbers[i];
  return text + ".";
}

/// How many coats were told to stop or to watch, in words first, and which could not be told: of
/// those "even" says nothing.
Headline vibration_headline(std::span<const TrendCoat> coats) {
  const auto count = [&](const char* verdict) {
    return std::count_if(coats.begin(), coats.end(),
                         [&](const TrendCoat& coat) { return coat.verdict == verdict; });
  };
  const auto stop = count("stop");
  const auto watch = count("watch");
  const auto even = count("even");
  const std::string sentence =
      std::to_string(even) + " even, " + std::to_string(watch) + " to watch, " +
      std::to_string(stop) + " to stop, of " + std::to_string(coats.size()) + "." +
      named("To stop", coats, "stop") + named("To watch", coats, "watch") +
      named("Cannot tell", coats, "cannot_tell") + named("Not judged", coats, "");
  if (stop > 0)
    return {Tone::stop, "Vibration", "stop", sentence};
  if (watch > 0)
    return {Tone::watch, "Vibration", "watch", sentence};
  if (even == 0)
    return {Tone::unknown, "Vibration", "cannot tell", sentence};
  return {Tone::good, "Vibration",
          even == std::ssize(coats) ? "even" : "even where it could be told", sentence};
}

/// Whether the measured boards agree with the estimates, by the last factor's interval.
Headline film_headline(const Group& resist) {
  const std::string about = "Film, " + (resist.name.empty() ? "resist not named" : resist.name);
  const auto factors = factors_of(resist.coats);
  if (factors.empty())
    return {Tone::unknown, about,
            any_measured(resist.coats) ? "nothing to compare" : "not measured",
            nothing_taught(resist.coats)};
  const report::FactorOfCoat& last = factors.back();
  const std::string sentence = "Measured over estimated: " + number_text(last.factor) + ", " +
                               interval_text(last.low, last.high) + " (95 %), of " +
                               std::to_string(factors.size()) + ".";
  const FilmRatio ratio{last.low, last.high};
  if (ratio.is_thicker())
    return {Tone::watch, about, "thicker than estimated", sentence};
  if (ratio.is_thinner())
    return {Tone::watch, about, "thinner than estimated", sentence};
  if (ratio.agrees())
    return {Tone::good, about, "as estimated",
            sentence + " More than a quarter thinner or thicker is excluded."};
  return {Tone::unknown, about, "cannot tell",
          sentence + " That excludes neither films as estimated nor such as are a quarter off: "
                     "measure more of them."};
}

template <class T>
void push(std::vector<T>& list, std::optional<T> item) {
  if (item)
    list.push_back(std::move(*item));
}

Json um_json(const std::optional<Length>& length) {
  return length ? rounded(length->um()) : Json();
}

Json coat_json(const TrendCoat& coat) {
  Json row{{"coat", coat.number},
           {"started", notebook::instant_text(coat.started)},
           {"board", coat.board},
           {"side", coat.side},
           {"resist", coat.resist},
           {"machine", coat.machine},
           {"pour", coat.pour},
           {"fate", coat.fate == Fate::lies ? Json(nullptr) : Json(fate_kind(coat.fate))},
           {"wanted_um", um_json(coat.thickness.wanted)},
           {"estimated_um", nullptr},
           {"interval_um", nullptr},
           {"measured_um", um_json(coat.thickness.measured)},
           {"amplitude_mrad", nullptr},
           {"verdict", coat.verdict}};
  if (coat.estimated) {
    row["estimated_um"] = rounded(coat.estimated->thickness.um());
    row["interval_um"] = {rounded(coat.estimated->low.um()), rounded(coat.estimated->high.um())};
  }
  if (coat.jitter)
    row["amplitude_mrad"] = rounded(coat.jitter->amplitude.mrad());
  return row;
}

} // namespace

report::Page trend_page(std::span<const TrendCoat> coats, std::size_t left_out) {
  report::Page page;
  page.title =
      "Trend over " + std::to_string(coats.size()) + (coats.size() == 1 ? " coat" : " coats");
  if (coats.empty()) {
    page.headlines = {{Tone::unknown, "Coats", "none", "No coat fits what was asked for."}};
    return page;
  }
  page.below_title = "Coats " + std::to_string(coats.front().number) + " to " +
                     std::to_string(coats.back().number);
  if (left_out > 0)
    page.below_title += "; " + std::to_string(left_out) + " older ones are not shown";
  const auto resists = grouped(coats, &TrendCoat::resist);
  for (const Group& resist : resists)
    if (!resist.name.empty() || resists.size() == 1)
      page.headlines.push_back(film_headline(resist));
  page.headlines.push_back(vibration_headline(coats));
  const report::CoatSpan all{coats.front().number, coats.back().number};
  for (const Group& resist : resists)
    push(page.sections, film_section(resist, all));
  for (const Group& machine : grouped(coats, &TrendCoat::machine))
    push(page.sections, jitter_section(machine, all));
  page.sections.push_back(coats_section(coats));
  page.foot = "Estimates follow from the speed as it was run and the resist's file as it was. The "
              "factor is learnt from all measured coats up to each; sides that were weighed "
              "together are one measurement, sides poured more than once are none.";
  return page;
}

Json trend_json(std::span<const TrendCoat> coats) {
  Json rows = Json::array();
  for (const TrendCoat& coat : coats)
    rows.push_back(coat_json(coat));
  Json factors = Json::array();
  for (const Group& resist : grouped(coats, &TrendCoat::resist)) {
    const auto learnt = factors_of(resist.coats);
    if (!learnt.empty())
      factors.push_back({{"resist", resist.name},
                         {"factor", rounded(learnt.back().factor)},
                         {"interval", {rounded(learnt.back().low), rounded(learnt.back().high)}},
                         {"coats", learnt.size()}});
  }
  return {{"coats", rows}, {"factors", factors}};
}

} // namespace whirler::cli
