#include "textbook_integrator.hpp"

#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <stdexcept>

namespace whirler::film::thinning::testing {
namespace {

int call(sunrealtype t, N_Vector y, N_Vector f, void* data) {
  (*static_cast<const RightSide*>(data))(t, N_VGetArrayPointer(y), N_VGetArrayPointer(f));
  return 0;
}

#ifdef SUN_COMM_NULL
const auto kNoMessages = SUN_COMM_NULL; // SUNDIALS 7; with MPI it hides a cast from a pointer
#else
constexpr void* kNoMessages = nullptr; // SUNDIALS 6
#endif

void demand(bool good, const char* what) {
  if (!good)
    throw std::runtime_error(what);
}

} // namespace

void cvode(const RightSide& f, double t0, double t1, std::vector<double>& y,
           const std::vector<double>& scale, double tolerance) {
  SUNContext context = nullptr;
  demand(SUNContext_Create(kNoMessages, &context) == 0, "context");
  const auto n = static_cast<sunindextype>(y.size());
  N_Vector state = N_VMake_Serial(n, y.data(), context);
  N_Vector absolute = N_VNew_Serial(n, context);
  for (std::size_t i = 0; i < y.size(); ++i)
    N_VGetArrayPointer(absolute)[i] = tolerance * scale[i];
  void* memory = CVodeCreate(CV_BDF, context);
  demand(CVodeInit(memory, call, t0, state) == CV_SUCCESS, "init");
  CVodeSVtolerances(memory, tolerance, absolute);
  CVodeSetUserData(memory, const_cast<RightSide*>(&f));
  CVodeSetMaxNumSteps(memory, 2000000);
  SUNMatrix matrix = SUNDenseMatrix(n, n, context);
  SUNLinearSolver solver = SUNLinSol_Dense(state, matrix, context);
  CVodeSetLinearSolver(memory, solver, matrix);
  CVodeSetStopTime(memory, t1);
  sunrealtype t = t0;
  const int flag = CVode(memory, t1, state, &t, CV_NORMAL);
  CVodeFree(&memory);
  SUNLinSolFree(solver);
  SUNMatDestroy(matrix);
  N_VDestroy(absolute);
  N_VDestroy(state);
  SUNContext_Free(&context);
  demand(flag >= 0, "CVode");
}

} // namespace whirler::film::thinning::testing
