#include "whirler/modbus/description.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>

namespace whirler::modbus {
namespace {

double counts_of(const SlopeRegister& slope, Ramp asked) {
  if (const auto* rate = std::get_if<Ramp>(&slope.scale))
    return asked / *rate;
  const double time_s = slope.span.rad_per_s() / asked.rad_per_s2();
  return time_s / std::get<Duration>(slope.scale).s();
}

Ramp ramp_of(const SlopeRegister& slope, double counts) {
  if (const auto* rate = std::get_if<Ramp>(&slope.scale))
    return counts * *rate;
  const double time_s = counts * std::get<Duration>(slope.scale).s();
  return rad_per_s2(slope.span.rad_per_s() / time_s);
}

} // namespace

std::optional<std::vector<std::uint16_t>> SlopeRegister::words_for(Ramp slope) const {
  const auto words = to_words(cell, counts_of(*this, slope));
  if (!words || !(from_words(cell, *words) > 0.0))
    return std::nullopt;
  return words;
}

std::optional<Ramp> SlopeRegister::rounded(Ramp slope) const {
  const auto words = words_for(slope);
  return words ? std::optional(ramp_of(*this, from_words(cell, *words))) : std::nullopt;
}

bool turns_by_sign(const Description& drive) {
  return drive.direction.has_value() && !drive.direction->cell;
}

bool reads_by_sign(const Description& drive) {
  const auto type = drive.actual.cell.type;
  return turns_by_sign(drive) && type != DataType::u16 && type != DataType::u32;
}

Speed highest_speed(const Description& drive) {
  Speed held = drive.target.highest();
  if (drive.actual.scale > rpm(0)) // else nothing was said of it
    held = std::min(held, drive.actual.highest());
  if (turns_by_sign(drive))
    held = std::min(held, -drive.target.lowest());
  if (reads_by_sign(drive) && drive.actual.scale > rpm(0))
    held = std::min(held, -drive.actual.lowest());
  return drive.limits.speed ? std::min(*drive.limits.speed, held) : held;
}

std::string fault_text(const Description& drive, std::uint16_t word,
                       std::optional<std::uint16_t> code) {
  std::string text;
  const auto add = [&text](const std::string& words) {
    text += (text.empty() ? "" : ", ") + words;
  };
  for (const auto& named : drive.fault.bits)
    if ((word & drive.fault.mask & (1U << static_cast<unsigned>(named.bit))) != 0)
      add(named.words);
  if (code && drive.fault_code) {
    const auto& codes = drive.fault_code->codes;
    const auto named = std::find_if(codes.begin(), codes.end(),
                                    [&](const NamedCode& one) { return one.code == *code; });
    add(named == codes.end() ? "code " + word_text(*code)
                             : named->words + " (code " + word_text(*code) + ")");
  }
  return "the drive reports a fault: " + (text.empty() ? word_text(word) : text);
}

} // namespace whirler::modbus
