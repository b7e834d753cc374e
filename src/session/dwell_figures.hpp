// What the tach showed in each dwell, and which of them the run is remembered by.
#pragma once

#include "whirler/tach/live_watch.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace whirler::session {

class DwellFigures {
 public:
  /// The figure so far of the dwell of this step, or that for which the run was stopped in it; the
  /// last one of a step counts.
  void see(std::size_t step, const tach::LiveFigure& figure);
  /// The dwell that was over a limit, the stop limit before the watch limit; of several, or where
  /// none was, the fastest: a profile that slows down at its end was not even for that.
  [[nodiscard]] std::optional<tach::LiveFigure> telling() const;

 private:
  std::vector<std::optional<tach::LiveFigure>> of_step_;
};

} // namespace whirler::session
