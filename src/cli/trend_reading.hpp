// Many stored coats, each read again down to what a trend shows of it.
#pragma once

#include "coat_notes.hpp"
#include "pour_record.hpp"
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
  std::string uid;
  notebook::Instant started{};
  std::string board;
  std::string side;
  std::string resist;
  std::string machine;
  std::string verdict; ///< as the run itself judged it
  Speed top_speed{};
  int pour = 1;           ///< on its side
  Fate fate = Fate::lies; ///< of its film
  ThicknessNotes thickness;
  /// As it lies there, from the speed that was run and the kept resist; none where it does not.
  std::optional<film::Estimate> estimated;
  std::optional<report::JitterOfCoat> jitter;
};

[[nodiscard]] TrendCoat trend_of(const notebook::Coat& coat);

/// After each coat that was both estimated and measured: what all of them up to it teach. The coats
/// are of one resist, the oldest first. Coats that were weighed together are one measurement, which
/// stands with the last of them. A side poured more than once teaches nothing.
[[nodiscard]] std::vector<report::FactorOfCoat> factors_of(std::span<const TrendCoat> coats);

} // namespace whirler::cli
