// To be replaced whole: no figure yet, so nothing is claimed and no run is stopped by it.
#include "whirler/tach/live_watch.hpp"

namespace whirler::tach {

std::string_view word(Verdict verdict) {
  switch (verdict) {
  case Verdict::even:
    return "even";
  case Verdict::watch:
    return "watch";
  case Verdict::stop:
    return "stop";
  case Verdict::cannot_tell:
    break;
  }
  return "cannot_tell";
}

struct LiveWatch::State {};

LiveWatch::LiveWatch(const SpinnerModel&, Duration, std::optional<OnceVector>) {}
LiveWatch::LiveWatch(LiveWatch&&) noexcept = default;
LiveWatch& LiveWatch::operator=(LiveWatch&&) noexcept = default;
LiveWatch::~LiveWatch() = default;
void LiveWatch::feed(std::span<const std::int64_t>, std::span<const std::int16_t>) {}
void LiveWatch::lost() {}
std::optional<LiveFigure> LiveWatch::figure() const { return std::nullopt; }
bool LiveWatch::over_stop_limit() const { return false; }
bool LiveWatch::will_be_over(Speed) const { return false; }
std::optional<Prediction> LiveWatch::predict(Speed) const { return std::nullopt; }
std::string LiveWatch::reason() const { return {}; }

} // namespace whirler::tach
