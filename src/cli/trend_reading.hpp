// Many stored coats, each read again down to what a trend shows of it.
#pragma once

#include "coat_notes.hpp"
#include "whirler/film/estimate.hpp"
#include "whirler/notebook/coat.hpp"
#include "whirler/report/trend_charts.hpp"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace whirler::cli {

struct TrendCoat {
  std::int64_t number = 0;
  notebook::Instant started{};
  std::string board;
  std::string side;
  std::string resist;
  std::string machine;
  std::string verdict;
  Speed top_speed{};
  ThicknessNotes thickness;
  std::optional<film::Estimate> estimated; ///< from the speed that was run and the kept resist
  std::optional<report::JitterOfCoat> jitter;
};

[[nodiscard]] TrendCoat trend_of(const notebook::Coat& coat);

/// After each coat that was both estimated and measured: what all of them up to it teach. The coats
/// are of one resist, the oldest first.
[[nodiscard]] std::vector<report::FactorOfCoat> factors_of(std::span<const TrendCoat> coats);

} // namespace whirler::cli
