// Steps a stiff system through straight pieces of omega(t), landing on every kink.
//
// The method is linearly implicit (Rosenbrock, L-stable): each step solves a few linear systems
// with one matrix and iterates nothing. A film that is nearly dry is stiff, and Newton's iteration
// of a multistep method spends its time on restarts: every kink of the profile starts it again at
// first order. Here a kink costs nothing.
//
// Coefficients: the L-stable method of four stages and order 4 with an embedded order 3, three
// evaluations of f a step; Hairer and Wanner, Solving Ordinary Differential Equations II, Springer
// 1996, section IV.7. A test measures the order.
//
// Rejected: the six-stage stiffly accurate method of the same book, which gives the same film for
// 1.4 times the work at every accuracy from 1e-3 to 1e-8; extrapolation and implicit Runge-Kutta,
// whose gain starts where no thickness gauge reaches; BDF for the restarts.
//
// A System has:
//   State                            fixed or growing array of doubles
//   enter(piece)                     omega(t) from here on
//   linearise(t, y, f, f_t)          f and its derivative by time; keeps the Jacobian
//   rhs(t, y, f)
//   factor(s)                        prepares (s I - J) for solve
//   solve(b)                         b := (s I - J)^-1 b
//   error(e, y0, y1)                 size of e over the tolerance's unit; infinite: not admissible
#pragma once

#include "whirler/film/thinning_pieces.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <utility>

namespace whirler::film::thinning {

/// A Rosenbrock method in the form (I/(gamma h) - J) k_i = f(y + sum a k) + sum (c/h) k + gamma_i h
/// f_t.
template <std::size_t S>
struct Tableau {
  double gamma = 0.0;
  double order = 0.0; ///< of the embedded solution, plus one: what the step control uses
  std::array<std::array<double, S>, S> a{};
  std::array<std::array<double, S>, S> c{};
  std::array<double, S> m{}, e{}, alpha{}, gammas{};
  std::array<bool, S> fresh{}; ///< whether the stage needs f at a new place
};

struct FourStages {
  static constexpr std::size_t kStages = 4;
  static constexpr Tableau<4> kTable = {
      0.57282,
      4.0,
      {{{},
        {2.0},
        {1.867943637803922, 0.2344449711399156},
        {1.867943637803922, 0.2344449711399156, 0.0}}},
      {{{},
        {-7.137615036412310},
        {2.580708087951457, 0.6515950076447975},
        {-2.137148994382534, -0.3214669691237626, -0.6949742501781779}}},
      {2.255570073418735, 0.2870493262186792, 0.4353179431840180, 1.093502252409163},
      {-0.2815431932141155, -0.0727619912493892, -0.1082196201495311, -1.093502252409163},
      {0.0, 1.14564, 0.65521686381559, 0.65521686381559},
      {0.57282, -1.769193891319233, 0.7592633437920482, -0.1049021087100450},
      {true, true, true, false}};
};

struct Counts {
  std::size_t steps = 0;    ///< accepted
  std::size_t rejected = 0; ///< tried again with a smaller step
};

/// What an observer may ask for after each accepted step.
enum class Next { go_on, stop };

/// One integration: owns the stages' storage, so that a second run allocates nothing.
template <class System, class Method = FourStages>
class Stepper {
 public:
  using State = typename System::State;

  /// `tolerance`: of one step, relative to the film.
  Stepper(System& system, const State& like, double tolerance)
      : system_(system), tolerance_(tolerance), f_(like), ft_(like), g_(like), trial_(like),
        error_(like) {
    k_.fill(like);
  }

  /// From y at pieces.front() to the end of pieces.back(), or to where `seen` stops.
  /// seen(t, y, f): after each accepted step and at the start; f is dy/dt there, to the right.
  /// False: the step fell to nothing (no admissible state ahead).
  template <class Observer>
  [[nodiscard]] bool run(std::span<const Piece> pieces, State& y, Observer&& seen) {
    for (const Piece& piece : pieces) {
      system_.enter(piece);
      if (!run_piece(piece, y, seen))
        return false;
      if (stopped_)
        return true;
    }
    return true;
  }

  [[nodiscard]] const Counts& counts() const { return counts_; }
  /// The step that the control would try next [s]; 0 before the first.
  [[nodiscard]] double next_step() const { return step_; }
  void set_next_step(double step_s) { step_ = step_s; }
  /// No step longer than this [s], whatever the control allows.
  void set_longest_step(double step_s) { longest_ = step_s; }

 private:
  template <class Observer>
  bool run_piece(const Piece& piece, State& y, Observer& seen) {
    double t = piece.start_s;
    if (step_ <= 0.0)
      step_ = kFirstShare * std::pow(tolerance_, 0.25) * piece.length();
    system_.linearise(t, y, f_, ft_);
    if (seen(t, y, f_) == Next::stop)
      return stopped_ = true;
    while (t < piece.end_s) {
      const double left = piece.end_s - t;
      // A last sliver would cost a step of its own: stretch or halve what is left.
      step_ = std::min(step_, longest_);
      const bool last = step_ >= left * (left > longest_ ? 1.0 : kNearlyAll);
      const double h = last ? left : (step_ > 0.5 * left && step_ < longest_ ? 0.5 * left : step_);
      if (!attempt(t, h, y))
        return false;
      if (!accepted_)
        continue;
      t = last ? piece.end_s : t + h;
      std::swap(y, trial_);
      system_.linearise(t, y, f_, ft_);
      if (seen(t, y, f_) == Next::stop)
        return stopped_ = true;
    }
    return true;
  }

  /// One trial of length h; sets accepted_, trial_ and the next step_. False: hopeless.
  bool attempt(double t, double h, const State& y) {
    system_.factor(1.0 / (kTable.gamma * h));
    stages(t, h, y);
    combine(y);
    const double size = system_.error(error_, y, trial_) / tolerance_;
    accepted_ = size <= 1.0;
    const double factor =
        std::isfinite(size) ? kSafety * std::pow(std::max(size, 1e-8), -1.0 / kTable.order) : 0.0;
    if (accepted_) {
      ++counts_.steps;
      // A step cut short by a kink says nothing against the longer one that the control held.
      const double grown = h * std::clamp(factor, kLeast, after_rejection_ ? 1.0 : kMost);
      step_ = h < step_ ? std::max(grown, factor >= 1.0 ? step_ : grown) : grown;
      after_rejection_ = false;
      return true;
    }
    ++counts_.rejected;
    after_rejection_ = true;
    step_ = h * std::clamp(factor, kLeast, kRetry);
    return step_ > kSmallest * (1.0 + std::abs(t));
  }

  void stages(double t, double h, const State& y) {
    [&]<std::size_t... S>(std::index_sequence<S...>) { (stage<S>(t, h, y), ...); }
    (std::make_index_sequence<kStages>{});
  }

  /// One pass over the unknowns a stage, its earlier stages unrolled, instead of one a term.
  template <std::size_t S>
  void stage(double t, double h, const State& y) {
    if constexpr (S > 0 && kTable.fresh[S])
      place_and_evaluate<S>(t, h, y);
    const double* f = S > 0 ? g_.data() : f_.data();
    const double* ft = ft_.data();
    double* k = k_[S].data();
    const auto before = earlier<S>();
    const double over_h = 1.0 / h, ht = h * kTable.gammas[S];
    const std::size_t n = y.size();
    for (std::size_t i = 0; i < n; ++i) {
      double sum = 0.0;
      for (std::size_t j = 0; j < S; ++j)
        sum += kTable.c[S][j] * before[j][i];
      k[i] = f[i] + ht * ft[i] + over_h * sum;
    }
    system_.solve(k_[S]);
  }

  template <std::size_t S>
  void place_and_evaluate(double t, double h, const State& y) {
    const double* from = y.data();
    double* at = trial_.data();
    const auto before = earlier<S>();
    const std::size_t n = y.size();
    for (std::size_t i = 0; i < n; ++i) {
      double sum = from[i];
      for (std::size_t j = 0; j < S; ++j)
        sum += kTable.a[S][j] * before[j][i];
      at[i] = sum;
    }
    system_.rhs(t + kTable.alpha[S] * h, trial_, g_);
  }

  void combine(const State& y) {
    const double* from = y.data();
    double* at = trial_.data();
    double* error = error_.data();
    const auto all = earlier<kStages>();
    const std::size_t n = y.size();
    for (std::size_t i = 0; i < n; ++i) {
      double sum = from[i], off = 0.0;
      for (std::size_t s = 0; s < kStages; ++s) {
        sum += kTable.m[s] * all[s][i];
        off += kTable.e[s] * all[s][i];
      }
      at[i] = sum;
      error[i] = off;
    }
  }

  template <std::size_t S>
  [[nodiscard]] std::array<const double*, S> earlier() const {
    std::array<const double*, S> stages{};
    for (std::size_t j = 0; j < S; ++j)
      stages[j] = k_[j].data();
    return stages;
  }

  static constexpr std::size_t kStages = Method::kStages;
  static constexpr const Tableau<kStages>& kTable = Method::kTable;
  static constexpr double kSafety = 0.9;
  static constexpr double kLeast = 0.1;
  static constexpr double kMost = 8.0;
  static constexpr double kRetry = 0.8;
  static constexpr double kNearlyAll = 0.9;
  static constexpr double kFirstShare = 1.0; // of a piece, at tolerance 1
  static constexpr double kSmallest = 1e-14;

  System& system_;
  double tolerance_;
  double step_ = 0.0;
  double longest_ = std::numeric_limits<double>::infinity();
  bool accepted_ = false;
  bool after_rejection_ = false;
  bool stopped_ = false;
  Counts counts_;
  State f_, ft_, g_, trial_, error_;
  std::array<State, kStages> k_;
};

} // namespace whirler::film::thinning
