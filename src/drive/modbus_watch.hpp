// What a Modbus drive's object remembers of how its drive behaves. Private to modbus_*.cpp.
#pragma once

#include "whirler/drive/modbus_drive.hpp"

namespace whirler::drive {

inline constexpr int kReadingsInARow = 3; ///< before one is believed

struct ModbusDrive::Watch {
  /// Of the longest silence that a drive without a dead-man may meet.
  static constexpr Duration kSilenceMost = seconds(1);
  /// After a stop, and again after a cut, until a drive that still says it runs is not believed to
  /// be about to say something else.
  static constexpr Duration kToLetGo = seconds(1.5);

  Duration cycle;                                     ///< as measured before the start
  std::string caution;                                ///< of a cycle that is long
  std::optional<WallClock::time_point> fast_since;    ///< faster than was asked for
  std::optional<WallClock::time_point> running_since; ///< told to stop, and says that it runs
};

} // namespace whirler::drive
