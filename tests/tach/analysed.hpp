// Pulses of a known spinner, and what an analysis makes of a recording.
#pragma once

#include "catch.hpp"
#include "pulse_maker.hpp"
#include "whirler/tach/recording.hpp"

#include <cstdint>
#include <random>
#include <utility>

namespace whirler::test {

inline tach::PulseTrain made(const pulse_maker::Spinner& spinner, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  return pulse_maker::pulses_of(spinner, random);
}

/// Fails the test where there is a fault.
inline tach::Analysis analysed(const tach::Recording& recording) {
  auto out = tach::analyse(recording);
  REQUIRE(out.ok());
  return std::move(out).value();
}

} // namespace whirler::test
