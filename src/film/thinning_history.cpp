#include "whirler/film/thinning_history.hpp"

#include "whirler/film/column_path.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film::thinning {
namespace {

/// u grows as the solids' thickness to the power -2.
constexpr double kSetGrowth = 1.0 / ((1.0 - kSetLoss) * (1.0 - kSetLoss));

/// Bisects to the time from which `holds` does; it does at `after`.
template <class Test>
double first_true(double before, double after, Test&& holds) {
  for (int i = 0; i < 40 && after - before > 1e-6 * (1.0 + after); ++i) {
    const double middle = 0.5 * (before + after);
    (holds(middle) ? after : before) = middle;
  }
  return after;
}

template <class Closures>
class Story {
 public:
  using Film = Column<Closures>;
  using State = typename Film::State;
  using Path = ColumnPath<Closures>;

  Story(const Closures& closures, std::span<const Piece> pieces, double pour_m, double accuracy)
      : column_(closures), pieces_(pieces), pour_m_(pour_m), accuracy_(accuracy),
        top_(top_omega(pieces)) {}

  std::optional<ColumnStory> tell() {
    story_.top_from_s = first_time_near_top(pieces_);
    story_.top_until_s = last_time_near_top(pieces_, kNearTop);
    if (!run_both_ways() || !judge_set() || !start_straight())
      return std::nullopt;
    sample();
    return story_;
  }

 private:
  /// `actual_` over the curve itself; `held_` leaves it at the last time near the top, and stays
  /// at the highest speed.
  bool run_both_ways() {
    const auto before = pieces_until(pieces_, story_.top_until_s);
    State y = column_.start(pour_m_);
    if (!before.empty() && !follow(column_, before, y, accuracy_, actual_))
      return false;
    held_ = actual_;
    held_end_ = y;
    if (!hold(kSetWindow_s))
      return false;
    const auto rest = pieces_from(pieces_, story_.top_until_s);
    if (!rest.empty() && !follow(column_, rest, y, accuracy_, actual_))
      return false;
    story_.end = point(actual_.end_s(), y);
    return true;
  }

  /// `held_` for so much longer.
  bool hold(double time_s) {
    const double from = held_.empty() ? pieces_.front().start_s : held_.end_s();
    const Piece piece{from, from + time_s, top_, 0.0};
    return follow(column_, std::span(&piece, 1), held_end_, accuracy_, held_);
  }

  /// What 60 s at the highest speed make of a state: its u.
  std::optional<double> grown(State y) {
    const Piece piece{0.0, kSetWindow_s, top_, 0.0};
    if (!finish(column_, std::span(&piece, 1), y, accuracy_))
      return std::nullopt;
    return y[0];
  }

  [[nodiscard]] std::optional<double> set_before(double latest_s) const {
    std::vector<double> times;
    for (const auto& knot : held_.knots())
      times.push_back(knot.t);
    return set_within(latest_s, times, [&](double t) { return held_.at(t)[0]; });
  }

  bool judge_set() {
    const double until = story_.top_until_s;
    auto set = set_before(until);
    if (!set && Closures::kSolvents > 0) {
      if (!hold(kLongestDwell_s))
        return false;
      set = set_before(until + kLongestDwell_s);
    }
    if (set)
      story_.needed_dwell_s = std::max(0.0, *set - story_.top_from_s);
    if (set && *set <= until)
      story_.set_s = set;
    else if (!judge_later())
      return false;
    story_.is_set = story_.set_s.has_value();
    const auto u = grown(actual_.knots().back().y);
    if (!u)
      return false;
    story_.flow_left = 1.0 - std::sqrt(actual_.knots().back().y[0] / *u);
    return true;
  }

  /// A slower step after the top may dry the film.
  bool judge_later() {
    const auto test = [&](double t) {
      const State y = actual_.at(t);
      const auto u = grown(y);
      return u && *u < kSetGrowth * y[0];
    };
    const double end = actual_.end_s();
    if (end > story_.top_until_s && test(end))
      story_.set_s = first_true(story_.top_until_s, end, test);
    return true;
  }

  bool start_straight() {
    const auto rest = pieces_from(pieces_, story_.top_from_s);
    State y = column_.start(pour_m_);
    if (!finish(column_, rest, y, accuracy_))
      return false;
    story_.straight_dry_m = Film::dry_m(y);
    return true;
  }

  [[nodiscard]] FilmPoint point(double t, const State& y) const {
    return {t, Film::dry_m(y), Film::wet_m(y), column_.temperature(y)};
  }

  void sample() {
    const std::vector<double> times = sample_times(pieces_);
    for (const double t : times)
      story_.points.push_back(point(t, actual_.at(t)));
    story_.coldest_K = story_.points.front().T_K;
    for (const auto& knot : actual_.knots())
      story_.coldest_K = std::min(story_.coldest_K, column_.temperature(knot.y));
  }

  Film column_;
  std::span<const Piece> pieces_;
  double pour_m_;
  double accuracy_;
  double top_;
  Path actual_, held_;
  State held_end_{};
  ColumnStory story_;
};

} // namespace

std::optional<double> set_within(double latest_s, std::span<const double> times,
                                 const std::function<double(double)>& u_at) {
  const auto is_set = [&](double t) { return u_at(t + kSetWindow_s) < kSetGrowth * u_at(t); };
  if (!is_set(latest_s))
    return std::nullopt;
  double wet = times.front();
  for (const double t : times)
    if (t < latest_s && !is_set(t))
      wet = std::max(wet, t);
  double set = latest_s;
  for (const double t : times)
    if (t > wet)
      set = std::min(set, t);
  return first_true(wet, set, is_set);
}

double first_time_near_top(std::span<const Piece> pieces) {
  const double wanted = kNearTop * top_omega(pieces);
  for (const Piece& p : pieces) {
    if (p.omega_start >= wanted)
      return p.start_s;
    if (p.omega_end() >= wanted)
      return p.start_s + (wanted - p.omega_start) / p.slope;
  }
  return pieces.front().start_s;
}

std::vector<double> sample_times(std::span<const Piece> pieces) {
  constexpr int kPoints = 120, kEarly = 31;
  const double from = pieces.front().start_s;
  const double to = pieces.back().end_s;
  std::vector<double> times;
  for (int i = 0; i <= kPoints; ++i)
    times.push_back(from + (to - from) * i / kPoints);
  for (int i = 1; i < kEarly; ++i) // the film falls fastest at first
    times.push_back(from + 0.1 * (to - from) * i / kEarly);
  for (const Piece& piece : pieces)
    times.push_back(piece.end_s);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end()), times.end());
  return times;
}

std::optional<ColumnStory> column_story(const Label& label, std::span<const Piece> pieces,
                                        double pour_m, double accuracy) {
  return with_closures(label, [&](const auto& closures) {
    return Story(closures, pieces, pour_m, accuracy).tell();
  });
}

} // namespace whirler::film::thinning
