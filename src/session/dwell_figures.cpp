#include "dwell_figures.hpp"

#include <algorithm>
#include <utility>

namespace whirler::session {
namespace {

std::pair<int, Speed> weight(const tach::LiveFigure& figure) {
  const int over = figure.verdict == tach::Verdict::stop    ? 2
                   : figure.verdict == tach::Verdict::watch ? 1
                                                            : 0;
  return {over, figure.speed};
}

} // namespace

void DwellFigures::see(std::size_t step, const tach::LiveFigure& figure) {
  of_step_.resize(std::max(of_step_.size(), step + 1));
  of_step_[step] = figure;
}

std::optional<tach::LiveFigure> DwellFigures::telling() const {
  std::optional<tach::LiveFigure> most;
  for (const auto& figure : of_step_)
    if (figure && (!most || weight(*figure) >= weight(*most)))
      most = figure;
  return most;
}

} // namespace whirler::session
