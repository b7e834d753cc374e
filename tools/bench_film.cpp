// How fast the film solver is against CVODE: same closures, same cells, one core, interleaved.
//
// A coat: up to 500 rpm, 5 s, up to the hold speed at 1000 rpm/s, 45 s, down, 4 s at rest; six hold
// speeds from 1500 to 6000 rpm; isothermal, so that CVODE's Jacobian is a narrow band. The error is
// that of the dry film in the worst cell of the six, against the same cells at 1e-10. Each solver
// gets the loosest tolerance that meets the error asked for, CVODE also its best set-up.
#include "film_bench/rival.hpp"
#include "whirler/film/column_path.hpp"
#include "whirler/film/inverse.hpp"
#include "whirler/film/radial_run.hpp"
#include "whirler/film/uncertainty.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <sched.h>
#include <string_view>
#include <time.h>

namespace {

using namespace whirler;
using namespace whirler::film;
using namespace whirler::film::thinning;
using bench::Closures;
using bench::Pieces;

constexpr std::size_t kCells = 64;
constexpr double kPour_m = 500e-6;
constexpr int kRounds = 9;
constexpr double kNever = std::numeric_limits<double>::infinity();

/// Of this thread on its core, so that a machine with other work does not count against either.
double now_us() {
  timespec t{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) * 1e6 + static_cast<double>(t.tv_nsec) * 1e-3;
}

Resist bottle(double mPa_s, double solids, double kJ) {
  Resist r;
  r.viscosity = millipascal_seconds(mPa_s);
  r.density = kg_per_m3(1.0 / (solids / 1200 + (1 - solids) / 963));
  r.solids_mass_fraction = solids;
  r.solids_density = kg_per_m3(1200);
  r.solvents = {{"pgmea", 1.0}};
  r.activation_energy = kJ_per_mol(kJ);
  return r;
}

SpeedCurve coat(double top) {
  const double reached = 5.5 + (top - 500) / 1000, left = reached + 45;
  return {{seconds(0), rpm(0)},
          {seconds(0.5), rpm(500)},
          {seconds(5.5), rpm(500)},
          {seconds(reached), rpm(top)},
          {seconds(left), rpm(top)},
          {seconds(left + top / 1000), rpm(0)},
          {seconds(left + top / 1000 + 4), rpm(0)}};
}

std::vector<Pieces> six_coats() {
  std::vector<Pieces> all;
  for (const double top : {1500., 2400., 3300., 4200., 5100., 6000.})
    all.push_back(pieces_of(coat(top)).value());
  return all;
}

Closures isothermal(const Resist& resist) {
  Closures c = drying_closures<1>(read_label(resist, {}, {}).value());
  c.store.plate = 1e15;
  return c;
}

struct Start {
  const char* name;
  double dome = 1.0, share = 1.0;
  [[nodiscard]] bool even() const { return dome == 1.0 && share == 1.0; }
};

using Films = std::vector<double>; // of one coat, each cell
/// A solver's six coats at a tolerance; empty where it gave up.
using Solver = std::function<std::vector<Films>(double tolerance)>;

Solver ours(const Closures& closures, const Start& start, const std::vector<Pieces>& coats) {
  return [closures, start, &coats](double tolerance) {
    std::vector<Films> films;
    const RadialGrid grid = radial_grid(kCells, 0.05);
    const double depth_m = kPour_m / (start.share * start.share);
    for (const Pieces& pieces : coats) {
      if (start.even()) { // what the product does with an even pour
        Column<Closures> column(closures);
        auto y = column.start(depth_m);
        films.push_back(finish(column, pieces, y, tolerance) ? Films{column.dry_m(y)} : Films{});
        continue;
      }
      RadialRun<Closures> run(closures, grid, {}, 0.0, tolerance);
      run.forget_points();
      auto story = run.run(pieces, {domed(grid, depth_m, start.dome), start.share});
      films.push_back(story ? std::move(story->dry_m) : Films{});
    }
    return films;
  };
}

/// The start on CVODE's fixed cells: a puddle fills the inner ones, a nanometre wets the others.
std::vector<double> on_fixed_cells(const Start& start, std::size_t cells) {
  constexpr double kDry_m = 1e-9;
  const RadialGrid inner = radial_grid(cells, 0.05);
  if (start.share == 1.0)
    return domed(inner, kPour_m, start.dome);
  const double area = start.share * start.share;
  std::vector<double> wet_m(cells, kDry_m);
  const auto covered = static_cast<std::size_t>(std::lround(area * static_cast<double>(cells)));
  const auto puddle = domed(radial_grid(covered, 0.05), kPour_m / area, start.dome);
  std::copy(puddle.begin(), puddle.end(), wet_m.begin());
  return wet_m;
}

Solver rival(const Closures& closures, const Start& start, const std::vector<Pieces>& coats,
             const bench::SetUp& setup, std::size_t cells) {
  auto cvode = std::make_shared<bench::Rival>(closures, cells, setup);
  return [cvode, wet_m = on_fixed_cells(start, cells), &coats](double tolerance) {
    std::vector<Films> films;
    for (const Pieces& pieces : coats)
      films.push_back(cvode->run(pieces, wet_m, tolerance));
    return films;
  };
}

double worst_error(const std::vector<Films>& films, const std::vector<Films>& exact) {
  double worst = 0.0;
  for (std::size_t i = 0; i < exact.size(); ++i) {
    if (films[i].size() != exact[i].size())
      return kNever;
    for (std::size_t k = 0; k < exact[i].size(); ++k)
      worst = std::max(worst, std::abs(films[i][k] / exact[i][k] - 1.0));
  }
  return std::isfinite(worst) ? worst : kNever;
}

struct Tuned {
  Solver solver;
  std::string name;
  double tolerance = 0.0, error = 0.0;
  std::vector<double> times_us; // a coat, each round
  [[nodiscard]] double median_us() const {
    auto t = times_us;
    std::sort(t.begin(), t.end());
    return t[t.size() / 2];
  }
};

double time_us(const Tuned& t) {
  const double from = now_us();
  (void)t.solver(t.tolerance);
  return (now_us() - from) / 6.0;
}

/// The loosest tolerance whose films are good enough, and stay so at the next tighter one.
std::optional<Tuned> tune(const Solver& solver, const std::string& name, double wanted) {
  const auto exact = solver(1e-10);
  std::optional<Tuned> found;
  for (double tolerance = 0.1; tolerance > 0.9e-9; tolerance /= std::pow(10.0, 0.25)) {
    const double error = worst_error(solver(tolerance), exact);
    if (error <= wanted && found)
      return found;
    found =
        error <= wanted ? std::optional(Tuned{solver, name, tolerance, error, {}}) : std::nullopt;
  }
  return found;
}

std::optional<Tuned> best_rival(const Closures& closures, const Start& start,
                                const std::vector<Pieces>& coats, std::size_t cells,
                                double wanted) {
  std::optional<Tuned> best;
  double best_us = kNever;
  for (const bench::SetUp& setup : bench::set_ups(start.share < 1.0)) {
    auto tuned = tune(rival(closures, start, coats, setup, cells), setup.name(), wanted);
    if (!tuned)
      continue;
    const double us = std::min({time_us(*tuned), time_us(*tuned), time_us(*tuned)});
    if (us < best_us) {
      best_us = us;
      best = std::move(tuned);
    }
  }
  return best;
}

void say(const char* start, double wanted, const Tuned& us, const std::optional<Tuned>& them,
         const char* cells) {
  std::printf("  %-8s %.0e  ours %8.1f us (error %.1e at %.0e)", start, wanted, us.median_us(),
              us.error, us.tolerance);
  if (them)
    std::printf("  CVODE%s %9.1f us (%.1e; %s)  %6.1f times\n", cells, them->median_us(),
                them->error, them->name.c_str(), them->median_us() / us.median_us());
  else
    std::printf("  CVODE%s never got there\n", cells);
}

void race(const Closures& closures, const Start& start, const std::vector<Pieces>& coats,
          double wanted) {
  auto us = tune(ours(closures, start, coats), "ours", wanted);
  auto them = best_rival(closures, start, coats, kCells, wanted);
  std::optional<Tuned> one;
  if (start.even())
    one = best_rival(closures, start, coats, 1, wanted);
  if (!us) {
    std::printf("  %-8s %.0e  ours never got there\n", start.name, wanted);
    return;
  }
  for (int round = 0; round < kRounds; ++round) {
    us->times_us.push_back(time_us(*us));
    for (auto* other : {&them, &one})
      if (*other)
        (*other)->times_us.push_back(time_us(**other));
  }
  say(start.name, wanted, *us, them, " on 64 cells");
  if (one)
    say("", wanted, *us, one, " on one cell ");
}

template <class Work>
double least_ms(Work&& work) {
  double best = kNever;
  for (int round = 0; round < kRounds; ++round) {
    const double from = now_us();
    work();
    best = std::min(best, (now_us() - from) * 1e-3);
  }
  return best;
}

void others(const Resist& resist, const char* name) {
  const auto spreads = label_spreads(resist, {});
  CoatPlan plan;
  plan.spread_speed = rpm(500);
  std::printf("  %s: 1000-sample interval %.1f ms, speed for a film (with dwell) %.2f ms, "
              "(until set) %.2f ms, whole estimate %.3f ms\n",
              name, least_ms([&] { (void)forecast(resist, coat(3000), {}, spreads, 1000); }),
              least_ms([&] {
                CoatPlan dwelt = plan;
                dwelt.dwell = seconds(45);
                (void)speed_for(micrometres(name[4] == 'n' ? 2.2 : 15), resist, dwelt, {}, rpm(200),
                                rpm(8000));
              }),
              least_ms([&] {
                (void)speed_for(micrometres(name[4] == 'n' ? 2.2 : 15), resist, plan, {}, rpm(200),
                                rpm(8000));
              }),
              least_ms([&] { (void)estimate(resist, coat(3000), {}); }));
}

void stay_on_this_core() {
  cpu_set_t cores;
  CPU_ZERO(&cores);
  CPU_SET(static_cast<std::size_t>(std::max(0, sched_getcpu())), &cores);
  (void)sched_setaffinity(0, sizeof cores, &cores);
}

/// Any words: only the starts so named ("domed hollow").
bool is_asked(const char* name, int count, char** words) {
  return count < 2 || std::any_of(words + 1, words + count,
                                  [&](const char* word) { return std::string_view(word) == name; });
}

} // namespace

int main(int count, char** words) {
  stay_on_this_core();
  const auto coats = six_coats();
  std::printf("Rival: %s\nA coat's time, the median of %d rounds, both measured in each round.\n",
              WHIRLER_RIVAL, kRounds);
  const struct {
    const char* name;
    Resist resist;
  } liquids[] = {{"thin resist, 25 mPa s", bottle(25, 0.36, 20)},
                 {"thick resist, 1.25 Pa s", bottle(1250, 0.60, 35)}};
  for (const auto& liquid : liquids) {
    std::printf("%s\n", liquid.name);
    const Closures closures = isothermal(liquid.resist);
    for (const Start& start : {Start{"uniform"}, Start{"domed", 2.0}, Start{"hollow", 0.7},
                               Start{"puddle", 1.0, 0.5}, Start{"heap", 2.5, 0.5}})
      for (const double wanted : {1e-3, 1e-5})
        if (is_asked(start.name, count, words))
          race(closures, start, coats, wanted);
    others(liquid.resist, liquid.name);
  }
}
