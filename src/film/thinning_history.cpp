#include "whirler/film/thinning_history.hpp"

#include "whirler/film/column_path.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film::thinning {
namespace {

/// u grows as the solids' thickness to the power -2.
constexpr double kSetGrowth = 1.0 / ((1.0 - kSetLoss) * (1.0 - kSetLoss));

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
    story_.top_from_s = first_near_top();
    story_.top_until_s = last_time_near_top(pieces_, kNearTop);
    if (!run_both_ways() || !judge_set() || !start_straight())
      return std::nullopt;
    sample();
    return story_;
  }

 private:
  [[nodiscard]] double first_near_top() const {
    for (const Piece& p : pieces_) {
      if (p.omega_start >= kNearTop * top_)
        return p.start_s;
      if (p.omega_end() >= kNearTop * top_)
        return p.start_s + (kNearTop * top_ - p.omega_start) / p.slope;
    }
    return pieces_.front().start_s;
  }

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

  [[nodiscard]] bool is_set_at(double t) const {
    return held_.at(t + kSetWindow_s)[0] < kSetGrowth * held_.at(t)[0];
  }

  /// The time from which the held film is set for good, if that is before `latest_s`.
  [[nodiscard]] std::optional<double> set_within(double latest_s) const {
    if (!is_set_at(latest_s))
      return std::nullopt;
    double set = latest_s;
    double wet = pieces_.front().start_s;
    for (const auto& knot : held_.knots()) {
      if (knot.t < latest_s && !is_set_at(knot.t))
        wet = std::max(wet, knot.t);
    }
    for (const auto& knot : held_.knots())
      if (knot.t > wet && knot.t < set)
        set = knot.t;
    return between(wet, set, [&](double t) { return is_set_at(t); });
  }

  template <class Test>
  static double between(double before, double after, Test&& holds) {
    for (int i = 0; i < 40 && after - before > 1e-6 * (1.0 + after); ++i) {
      const double middle = 0.5 * (before + after);
      (holds(middle) ? after : before) = middle;
    }
    return after;
  }

  bool judge_set() {
    const double until = story_.top_until_s;
    auto set = set_within(until);
    if (!set && Closures::kSolvents > 0) {
      if (!hold(kLongestDwell_s))
        return false;
      set = set_within(until + kLongestDwell_s);
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
      story_.set_s = between(story_.top_until_s, end, test);
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
    constexpr int kPoints = 120;
    const double from = pieces_.front().start_s;
    const double to = pieces_.back().end_s;
    std::vector<double> times;
    for (int i = 0; i <= kPoints; ++i)
      times.push_back(from + (to - from) * i / kPoints);
    for (const Piece& piece : pieces_)
      times.push_back(piece.end_s);
    std::sort(times.begin(), times.end());
    times.erase(std::unique(times.begin(), times.end()), times.end());
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

std::optional<ColumnStory> column_story(const Label& label, std::span<const Piece> pieces,
                                        double pour_m, double accuracy) {
  return with_closures(label, [&](const auto& closures) {
    return Story(closures, pieces, pour_m, accuracy).tell();
  });
}

} // namespace whirler::film::thinning
