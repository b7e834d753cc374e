// Faults put into a good train of pulses, and counted as they are put in.
#pragma once

#include "whirler/tach/pulses.hpp"

#include <cstdint>
#include <random>
#include <utility>

namespace pulse_maker {

struct FaultShares {
  double missing = 0.0;
  double doubled = 0.0;
  double swapped = 0.0;
};

struct Faulty {
  whirler::tach::PulseTrain train;
  std::size_t missing = 0;
  std::size_t doubled = 0;
  std::size_t swapped = 0;
};

/// The first and the last pulse stay, so that every missing one is missing between two others.
inline Faulty with_faults(const whirler::tach::PulseTrain& good, FaultShares shares,
                          std::mt19937_64& random) {
  std::uniform_real_distribution<double> share(0.0, 1.0);
  Faulty out;
  out.train.tick = good.tick;
  const bool numbered = !good.marks.empty();
  const auto put = [&](std::int64_t tick, std::size_t i) {
    out.train.ticks.push_back(tick);
    if (numbered)
      out.train.marks.push_back(good.marks[i]);
  };
  for (std::size_t i = 0; i < good.size(); ++i) {
    const bool inner = i > 0 && i + 1 < good.size();
    if (inner && share(random) < shares.missing) {
      ++out.missing;
      continue;
    }
    put(good.ticks[i], i);
    if (inner && share(random) < shares.doubled) {
      const double at = 0.02 + 0.96 * share(random);
      const auto gap = static_cast<double>(good.ticks[i + 1] - good.ticks[i]);
      put(good.ticks[i] + static_cast<std::int64_t>(at * gap), i);
      ++out.doubled;
    } else if (inner && out.train.size() > 2 && share(random) < shares.swapped) {
      const std::size_t last = out.train.size() - 1;
      std::swap(out.train.ticks[last], out.train.ticks[last - 1]);
      if (numbered)
        std::swap(out.train.marks[last], out.train.marks[last - 1]);
      ++out.swapped;
    }
  }
  return out;
}

} // namespace pulse_maker
