#include "rival.hpp"

#include "whirler/film/thinning_cell.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include <cmath>
#include <cstdlib>

namespace bench {
namespace {

using namespace whirler::film::thinning;

#ifdef SUN_COMM_NULL
const auto kNoMessages = SUN_COMM_NULL; // SUNDIALS 7; with MPI it hides a cast
#else
constexpr void* kNoMessages = nullptr; // SUNDIALS 6
#endif

constexpr sunindextype kUpper = 1, kLower = 3; // 2 x 2 blocks, own and inner

struct Problem {
  Closures closures;
  std::size_t cells = 1;
  Piece piece;
  const Pieces* all = nullptr; // where kinks are ignored
  double width = 1.0;

  [[nodiscard]] double omega(double t) const {
    return std::abs(all != nullptr ? omega_at(*all, t) : piece.omega(t));
  }
  [[nodiscard]] double xi(std::size_t i) const { return width * static_cast<double>(i + 1); }
};

// Plain unknowns: dh_s/dt = -(2/d) [s_i - s_(i-1)], dh_l/dt the same - E; s = xi K h^2 h_s.
int plain_rhs(sunrealtype t, N_Vector yv, N_Vector fv, void* data) {
  const Problem& p = *static_cast<const Problem*>(data);
  const double* y = N_VGetArrayPointer(yv);
  double* f = N_VGetArrayPointer(fv);
  const double omega = p.omega(t);
  const auto c = p.closures.at(omega, p.closures.store.air_K);
  double in_s = 0.0, in_l = 0.0;
  for (std::size_t i = 0; i < p.cells; ++i) {
    const double s = y[2 * i], l = y[2 * i + 1];
    if (!(s > 0.0))
      return 1;
    const double h = s + l, phi = s / h;
    const double q = p.xi(i) * p.closures.mobility(c, phi) * omega * omega * h * h;
    const double e = p.closures.evaporation(c, {l / s}, phi).e[0];
    f[2 * i] = -2.0 / p.width * (q * s - in_s);
    f[2 * i + 1] = -2.0 / p.width * (q * l - in_l) - e;
    in_s = q * s;
    in_l = q * l;
  }
  return 0;
}

int plain_jacobian(sunrealtype t, N_Vector yv, N_Vector, SUNMatrix j, void* data, N_Vector,
                   N_Vector, N_Vector) {
  const Problem& p = *static_cast<const Problem*>(data);
  const double* y = N_VGetArrayPointer(yv);
  const double omega = p.omega(t);
  const auto c = p.closures.at(omega, p.closures.store.air_K);
  double inner[4] = {0.0, 0.0, 0.0, 0.0}; // of the fluxes of s and l by s and l
  for (std::size_t i = 0; i < p.cells; ++i) {
    const double s = y[2 * i], l = y[2 * i + 1], h = s + l, phi = s / h;
    const Mobility m = p.closures.mobility_slope(c, phi);
    const double k = p.xi(i) * omega * omega;
    const double q = k * m.m * h * h;
    const double q_s = k * (2.0 * m.m * h + m.m_dphi * l);
    const double q_l = k * (2.0 * m.m * h - m.m_dphi * s);
    const double own[4] = {q + q_s * s, q_l * s, q_s * l, q + q_l * l};
    const auto e = p.closures.evaporation_slopes(c, {l / s}, phi);
    const double two = 2.0 / p.width;
    const auto row = static_cast<sunindextype>(2 * i);
    for (sunindextype a = 0; a < 2; ++a)
      for (sunindextype b = 0; b < 2; ++b) {
        SM_ELEMENT_B(j, row + a, row + b) = -two * own[2 * a + b];
        if (i > 0)
          SM_ELEMENT_B(j, row + a, row - 2 + b) = two * inner[2 * a + b];
      }
    SM_ELEMENT_B(j, row + 1, row) += e.by_w[0][0] * l / (s * s);
    SM_ELEMENT_B(j, row + 1, row + 1) -= e.by_w[0][0] / s;
    std::copy(own, own + 4, inner);
  }
  return 0;
}

// Smooth unknowns, those of the solver itself.
int smooth_rhs(sunrealtype t, N_Vector yv, N_Vector fv, void* data) {
  const Problem& p = *static_cast<const Problem*>(data);
  const double* y = N_VGetArrayPointer(yv);
  double* f = N_VGetArrayPointer(fv);
  const double omega = p.omega(t);
  const auto c = p.closures.at(omega, p.closures.store.air_K);
  double in = 0.0, w_in = 0.0;
  for (std::size_t i = 0; i < p.cells; ++i) {
    const double u = y[2 * i], w = y[2 * i + 1];
    if (!(u > 0.0) || !(w > -1.0))
      return 1;
    const auto r = rates_at(p.closures, c, omega * omega, std::array{w});
    const double root = std::sqrt(u), out = p.xi(i) * r.spread;
    f[2 * i] = 4.0 / p.width * (out - in * u * root);
    f[2 * i + 1] = root * (2.0 / p.width * in * (w_in - w) - r.e[0]);
    in = out / (u * root);
    w_in = w;
  }
  return 0;
}

int smooth_jacobian(sunrealtype t, N_Vector yv, N_Vector, SUNMatrix j, void* data, N_Vector,
                    N_Vector, N_Vector) {
  const Problem& p = *static_cast<const Problem*>(data);
  const double* y = N_VGetArrayPointer(yv);
  const double omega = p.omega(t);
  const auto c = p.closures.at(omega, p.closures.store.air_K);
  double in = 0.0, in_u = 0.0, in_w = 0.0, w_in = 0.0;
  for (std::size_t i = 0; i < p.cells; ++i) {
    const double u = y[2 * i], w = y[2 * i + 1], root = std::sqrt(u);
    const auto s = slopes_at(p.closures, c, omega * omega, std::array{w});
    const double four = 4.0 / p.width, two = 2.0 / p.width, xi = p.xi(i);
    const auto row = static_cast<sunindextype>(2 * i);
    SM_ELEMENT_B(j, row, row) = -1.5 * four * in * root;
    SM_ELEMENT_B(j, row, row + 1) = four * xi * s.spread_w;
    SM_ELEMENT_B(j, row + 1, row) = 0.5 / root * (two * in * (w_in - w) - s.rates.e[0]);
    SM_ELEMENT_B(j, row + 1, row + 1) = -root * (two * in + s.e.by_w[0][0]);
    if (i > 0) {
      SM_ELEMENT_B(j, row, row - 2) = -four * in_u * u * root;
      SM_ELEMENT_B(j, row, row - 1) = -four * in_w * u * root;
      SM_ELEMENT_B(j, row + 1, row - 2) = root * two * in_u * (w_in - w);
      SM_ELEMENT_B(j, row + 1, row - 1) = root * two * (in_w * (w_in - w) + in);
    }
    const double out = xi * s.rates.spread;
    in = out / (u * root);
    in_u = -1.5 * in / u;
    in_w = xi * s.spread_w / (u * root);
    w_in = w;
  }
  return 0;
}

} // namespace

std::string SetUp::name() const {
  std::string text = unknowns == Unknowns::plain ? "(h_s, h_l)" : "(h_s^-2, w)";
  text += kinks == Kinks::restart ? ", restart at kinks"
          : kinks == Kinks::stop  ? ", stop at kinks"
                                  : ", kinks stepped over";
  return text;
}

std::vector<SetUp> set_ups(bool puddle) {
  std::vector<SetUp> all;
  for (const auto kinks : {SetUp::Kinks::restart, SetUp::Kinks::stop, SetUp::Kinks::ignore}) {
    all.push_back({SetUp::Unknowns::plain, kinks, puddle ? 1e-6 : 1e-7});
    if (!puddle) // a dry cell has no h_s^-2
      all.push_back({SetUp::Unknowns::smooth, kinks, 0.0});
  }
  return all;
}

struct Rival::Parts {
  Problem problem;
  SetUp setup{};
  SUNContext context = nullptr;
  N_Vector y = nullptr, absolute = nullptr;
  SUNMatrix matrix = nullptr;
  SUNLinearSolver solver = nullptr;
  void* memory = nullptr;
};

Rival::Rival(const Closures& closures, std::size_t cells, const SetUp& setup)
    : parts_(std::make_unique<Parts>()) {
  Parts& p = *parts_;
  p.problem.closures = closures;
  p.problem.cells = cells;
  p.problem.width = 1.0 / static_cast<double>(cells);
  p.setup = setup;
  const auto n = static_cast<sunindextype>(2 * cells);
  SUNContext_Create(kNoMessages, &p.context);
  p.y = N_VNew_Serial(n, p.context);
  p.absolute = N_VNew_Serial(n, p.context);
  const bool plain = setup.unknowns == SetUp::Unknowns::plain;
  N_VConst(1.0, p.y);
  p.memory = CVodeCreate(CV_BDF, p.context);
  CVodeInit(p.memory, plain ? plain_rhs : smooth_rhs, 0.0, p.y);
  CVodeSStolerances(p.memory, 1e-4, 1e-9);
  CVodeSetUserData(p.memory, &p.problem);
  CVodeSetMaxNumSteps(p.memory, 200000);
#if SUNDIALS_VERSION_MAJOR < 7
  CVodeSetErrFile(p.memory, nullptr); // a tolerance that it cannot hold is an answer, not news
#endif
  p.matrix = SUNBandMatrix(n, kUpper, kLower, p.context);
  p.solver = SUNLinSol_Band(p.y, p.matrix, p.context);
  CVodeSetLinearSolver(p.memory, p.solver, p.matrix);
  CVodeSetJacFn(p.memory, plain ? plain_jacobian : smooth_jacobian);
}

Rival::~Rival() {
  CVodeFree(&parts_->memory);
  SUNLinSolFree(parts_->solver);
  SUNMatDestroy(parts_->matrix);
  N_VDestroy(parts_->absolute);
  N_VDestroy(parts_->y);
  SUNContext_Free(&parts_->context);
}

std::vector<double> Rival::run(const Pieces& pieces, std::span<const double> wet_m,
                               double tolerance) {
  Parts& p = *parts_;
  const bool plain = p.setup.unknowns == SetUp::Unknowns::plain;
  double* y = N_VGetArrayPointer(p.y);
  double* a = N_VGetArrayPointer(p.absolute);
  const double phi = p.problem.closures.start_phi;
  for (std::size_t i = 0; i < p.problem.cells; ++i) {
    const double solids = wet_m[i] * phi;
    y[2 * i] = plain ? solids : 1.0 / (solids * solids);
    y[2 * i + 1] = plain ? wet_m[i] - solids : 1.0 / phi - 1.0;
    a[2 * i] = plain ? tolerance * p.setup.floor_m : tolerance * y[2 * i] * 1e-3;
    a[2 * i + 1] = plain ? tolerance * p.setup.floor_m : tolerance;
  }
  p.problem.all = p.setup.kinks == SetUp::Kinks::ignore ? &pieces : nullptr;
  CVodeReInit(p.memory, pieces.front().start_s, p.y);
  // The solver's own error is asked for in h_s; u = h_s^-2 may be off twice as much.
  CVodeSVtolerances(p.memory, plain ? tolerance : 2.0 * tolerance, p.absolute);
  sunrealtype t = pieces.front().start_s;
  for (const Piece& piece : pieces) {
    p.problem.piece = piece;
    if (p.setup.kinks == SetUp::Kinks::restart && t > pieces.front().start_s)
      CVodeReInit(p.memory, t, p.y);
    const bool last = &piece == &pieces.back();
    if (p.setup.kinks == SetUp::Kinks::ignore && !last)
      continue;
    CVodeSetStopTime(p.memory, piece.end_s);
    if (CVode(p.memory, piece.end_s, p.y, &t, CV_NORMAL) < 0)
      return {};
  }
  std::vector<double> dry(p.problem.cells);
  for (std::size_t i = 0; i < dry.size(); ++i)
    dry[i] = plain ? y[2 * i] : 1.0 / std::sqrt(y[2 * i]);
  return dry;
}

} // namespace bench
