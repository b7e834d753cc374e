#include "textbook_integrator.hpp"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>

#include <stdexcept>

namespace whirler::film::thinning::testing {
namespace {

int call(double t, const double y[], double f[], void* data) {
  (*static_cast<const RightSide*>(data))(t, y, f);
  return GSL_SUCCESS;
}

} // namespace

void gsl_rk8pd(const RightSide& f, double t0, double t1, std::vector<double>& y, double tolerance) {
  gsl_odeiv2_system system = {call, nullptr, y.size(), const_cast<RightSide*>(&f)};
  gsl_odeiv2_driver* driver = gsl_odeiv2_driver_alloc_y_new(&system, gsl_odeiv2_step_rk8pd,
                                                            1e-6 * (t1 - t0), 0.0, tolerance);
  double t = t0;
  const int flag = gsl_odeiv2_driver_apply(driver, &t, t1, y.data());
  gsl_odeiv2_driver_free(driver);
  if (flag != GSL_SUCCESS)
    throw std::runtime_error(gsl_strerror(flag));
}

} // namespace whirler::film::thinning::testing
