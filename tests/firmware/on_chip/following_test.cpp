// A program is followed by a light and by a heavy plate with one set of gains. Speeds are those of
// the simulated rotor itself, on the chip's clock.
#include "catch.hpp"

#include "figures.hpp"
#include "following.hpp"

namespace {

void check_following(bench::Figures& figures, const bench::Following& run) {
  figures.line(to_text(run));
  CHECK(run.ended == whirler::link::Latch::done);
  CHECK(run.all_pulses_heard);
  for (const auto& dwell : run.dwells) {
    CAPTURE(run.rotor, dwell.target_rpm);
    CHECK(std::abs(dwell.mean_error_percent) < 0.5);
    CHECK(dwell.overshoot_percent < 2.0);
    CHECK(std::abs(dwell.length_error_ms) <= 20.0);
  }
}

bench::StandModel rotor(whirler::Inertia inertia, int marks, const char* image,
                        std::uint64_t seed) {
  bench::StandModel model;
  model.inertia = inertia;
  model.marks = marks;
  model.image = image;
  model.seed = seed;
  return model;
}

} // namespace

TEST_CASE("six marks: overshoot under 2 %, dwells right to 0.5 % and 20 ms", "[following]") {
  bench::Figures figures("following_6_marks");
  for (const std::uint64_t seed : {1U, 5U}) {
    check_following(figures,
                    bench::follow("light plate", rotor(bench::light_rotor(), 6, "plain", seed),
                                  bench::long_program(), whirler::rpm_per_s(1000)));
    check_following(figures,
                    bench::follow("heavy plate", rotor(bench::heavy_rotor(), 6, "plain", seed),
                                  bench::long_program(), whirler::rpm_per_s(1000)));
  }
}

TEST_CASE("twenty-four marks: the same", "[following]") {
  bench::Figures figures("following_24_marks");
  check_following(figures, bench::follow("light plate, 24 marks",
                                         rotor(bench::light_rotor(), 24, "marks24", 2),
                                         bench::long_program(), whirler::rpm_per_s(1000)));
  check_following(figures, bench::follow("heavy plate, 24 marks",
                                         rotor(bench::heavy_rotor(), 24, "marks24", 3),
                                         bench::long_program(), whirler::rpm_per_s(1000)));
}

TEST_CASE("a single fast step to 6000 rpm is followed too", "[following]") {
  bench::Figures figures("following_fast_step");
  const std::vector<whirler::link::Segment> fast{
      {0, whirler::rpm(6000), whirler::rpm_per_s(2500), whirler::seconds(2.0)}};
  check_following(figures, bench::follow("light plate, one fast step",
                                         rotor(bench::light_rotor(), 6, "plain", 4), fast,
                                         whirler::rpm_per_s(2000)));
}
