// Waiting for a drive's word while its line goes on being served.
#pragma once

#include "whirler/units/result.hpp"

#include <boost/asio/io_context.hpp>

#include <algorithm>
#include <chrono>
#include <functional>
#include <optional>

namespace whirler::drive {

/// Serves the line until `done`, or for `patience`, or until it is `lost` or `give_up` says so.
/// Tells whether it was done in time.
inline bool serve_until(boost::asio::io_context& context, const std::function<bool()>& done,
                        std::chrono::steady_clock::duration patience,
                        const std::optional<Fault>& lost, const std::function<bool()>& give_up) {
  using WallClock = std::chrono::steady_clock;
  const auto until = WallClock::now() + patience;
  constexpr auto kLook =
      std::chrono::milliseconds(10); // how often `give_up` and the clock are looked at
  while (!done() && !lost && !(give_up && give_up())) {
    if (WallClock::now() >= until)
      return false;
    context.restart();
    context.run_one_until(std::min(until, WallClock::now() + kLook));
  }
  return done();
}

} // namespace whirler::drive
