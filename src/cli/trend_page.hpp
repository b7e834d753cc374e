// Many coats as one page: film wanted, estimated and measured; vibration; what a resist has taught.
#pragma once

#include "trend_reading.hpp"
#include "whirler/report/page.hpp"

namespace whirler::cli {

/// Of coats, the oldest first. `left_out`: older ones that the page does not show.
[[nodiscard]] report::Page trend_page(std::span<const TrendCoat> coats, std::size_t left_out);

/// The same for programs: a row a coat, and the factor that each resist's coats teach.
[[nodiscard]] Json trend_json(std::span<const TrendCoat> coats);

} // namespace whirler::cli
