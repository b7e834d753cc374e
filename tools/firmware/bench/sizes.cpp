#include "sizes.hpp"

#include "stand.hpp"

#include <cstdio>

namespace bench {

namespace link = whirler::link;
using whirler::rpm;
using whirler::rpm_per_s;
using whirler::seconds;

namespace {

/// A frame as long as a driver must take, which it does not know; and one with a wrong check.
void pester(Stand& stand) {
  const std::vector<std::uint8_t> filling(link::kMaxHostPayload, 0x7E);
  stand.host.send_raw(link::encode_frame(0x44, 1, filling));
  auto damaged = link::encode_frame(0x44, 2, filling);
  damaged[damaged.size() / 2] ^= 0x01;
  stand.host.send_raw(damaged);
  stand.host.send_raw(link::encode(link::Segment{0, rpm(1), rpm_per_s(1), {}}, 3));
  stand.host.send_raw(link::encode(link::Clear{}, 4));
  stand.chip.at(stand.now() + ms(50), [&stand] { pester(stand); });
}

} // namespace

Sizes measure_sizes() {
  StandModel model;
  model.image = "marks24";
  model.marks = 24;
  Stand stand(model);
  stand.greet();
  stand.start({{0, rpm(6000), rpm_per_s(2500), seconds(2.0)}}, rpm_per_s(3000));
  pester(stand);
  stand.host.run_until([](const link::Status& status) { return shows(Moment::dwell, status); },
                       ms(30000));
  stand.chip.run_for(ms(1800));
  stand.rig.lid(true); // its interrupt, too
  stand.chip.run_for(ms(30));
  Sizes sizes;
  sizes.flash = stand.chip.flash_used();
  sizes.variables = stand.chip.variables();
  sizes.stack_used = stand.chip.stack_used();
  sizes.stack_there = stand.chip.stack_size();
  sizes.overruns = stand.chip.overruns();
  sizes.interrupts = stand.chip.interrupt_times();
  return sizes;
}

std::string to_text(const Sizes& sizes) {
  char line[160];
  std::snprintf(line, sizeof line,
                "flash %zu of 32256 bytes, variables %zu of 2048, stack %zu of the %zu left\n",
                sizes.flash, sizes.variables, sizes.stack_used, sizes.stack_there);
  std::string text = line;
  for (const InterruptTime& time : sizes.interrupts) {
    std::snprintf(line, sizeof line, "  %-28s %4llu cycles, %5.1f us at the longest\n",
                  time.name.c_str(), static_cast<unsigned long long>(time.longest),
                  static_cast<double>(time.longest) / 16.0);
    text += line;
  }
  return text;
}

} // namespace bench
