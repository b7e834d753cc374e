#include "catch.hpp"
#include "whirler/modbus/description.hpp"

#include <cmath>
#include <limits>

using namespace whirler;
using namespace whirler::modbus;

namespace {

using Words = std::vector<std::uint16_t>;

Cell cell(DataType type, WordOrder order = WordOrder::high_first) {
  return {100, type, order, Function::read_holding};
}

} // namespace

TEST_CASE("exact: every data type at its ends, and one beyond them is refused") {
  struct Case {
    DataType type;
    double count;
    Words words;
  };
  const Case cases[] = {
      {DataType::u16, 0, {0}},
      {DataType::u16, 65535, {0xFFFF}},
      {DataType::s16, -32768, {0x8000}},
      {DataType::s16, -1, {0xFFFF}},
      {DataType::s16, 32767, {0x7FFF}},
      {DataType::u32, 65536, {0x0001, 0x0000}},
      {DataType::u32, 4294967295.0, {0xFFFF, 0xFFFF}},
      {DataType::s32, -2, {0xFFFF, 0xFFFE}},
      {DataType::s32, -2147483648.0, {0x8000, 0x0000}},
      // IEEE 754 binary32: 1.5 is 3FC00000, -3000 is C53B8000.
      {DataType::f32, 1.5, {0x3FC0, 0x0000}},
      {DataType::f32, -3000, {0xC53B, 0x8000}},
  };
  for (const auto& each : cases) {
    CAPTURE(each.count);
    CHECK(to_words(cell(each.type), each.count) == each.words);
    CHECK(from_words(cell(each.type), each.words) == each.count);
  }
  for (const auto type : {DataType::u16, DataType::s16, DataType::u32, DataType::s32}) {
    CHECK(to_words(cell(type), highest_count(type)).has_value());
    CHECK_FALSE(to_words(cell(type), highest_count(type) + 1).has_value());
    CHECK_FALSE(to_words(cell(type), lowest_count(type) - 1).has_value());
    CHECK_FALSE(to_words(cell(type), std::numeric_limits<double>::quiet_NaN()).has_value());
  }
  CHECK_FALSE(to_words(cell(DataType::f32), 1e39).has_value());
}

TEST_CASE("exact: word order swaps the two words of a 32-bit value and nothing else") {
  const auto low = cell(DataType::s32, WordOrder::low_first);
  CHECK(to_words(low, 0x12345678) == Words{0x5678, 0x1234});
  CHECK(from_words(low, Words{0x5678, 0x1234}) == 0x12345678);
  CHECK(to_words(cell(DataType::u16, WordOrder::low_first), 0x1234) == Words{0x1234});
}

TEST_CASE("exact: scale and offset turn counts into speeds and back") {
  const Scaled<Speed> tenths{cell(DataType::s16), rpm(0.1), rpm(-50)};
  // [math] 1200.3 rpm = -50 + 0.1 * 12503.
  CHECK(tenths.words_for(rpm(1200.3)) == Words{12503});
  CHECK(tenths.value_of(Words{12503}).rpm() == Approx(1200.3));
  CHECK(tenths.highest().rpm() == Approx(3226.7));
  CHECK_FALSE(tenths.words_for(rpm(3227)).has_value());
  CHECK(tenths.rounded(rpm(100.04))->rpm() == Approx(100.0));
}

TEST_CASE("exact: a slope is written as a rate, or as the time from rest to a speed") {
  const SlopeRegister rate{cell(DataType::u16), rpm_per_s(10), {}};
  CHECK(rate.words_for(rpm_per_s(1500)) == Words{150});
  const SlopeRegister time{cell(DataType::u16), seconds(0.1), rpm(3000)};
  // [math] 3000 rpm at 1000 rpm/s are 3.0 s: 30 counts.
  CHECK(time.words_for(rpm_per_s(1000)) == Words{30});
  CHECK(time.rounded(rpm_per_s(1000))->rpm_per_s() == Approx(1000));
  CHECK(time.rounded(rpm_per_s(7000))->rpm_per_s() == Approx(7500)); // 0.43 s becomes 0.4 s
  // Zero counts would be a jump, or the drive's own default.
  CHECK_FALSE(time.words_for(rpm_per_s(100000)).has_value());
  CHECK_FALSE(rate.words_for(rpm_per_s(3)).has_value());
}

TEST_CASE("modbus: a fault is said by the file's words, and by its number where there are none") {
  Description drive;
  drive.fault.mask = 0x00FF;
  drive.fault.bits = {{0, "over current"}, {3, "too hot"}, {9, "outside the mask"}};
  CHECK(fault_text(drive, 0x0209, {}) == "the drive reports a fault: over current, too hot");
  CHECK(fault_text(drive, 0x0080, {}) == "the drive reports a fault: 0x0080");
  drive.fault_code = FaultCode{{}, {{0x2310, "current too high for too long"}}};
  CHECK(fault_text(drive, 0x0080, std::uint16_t{0x2310}) ==
        "the drive reports a fault: current too high for too long (code 0x2310)");
  CHECK(fault_text(drive, 0x0001, std::uint16_t{7}) ==
        "the drive reports a fault: over current, code 0x0007");
}

TEST_CASE("modbus: the highest speed is the smaller of the limit and what the register holds") {
  Description drive;
  drive.target = {cell(DataType::s16), rpm(0.1), rpm(0)};
  CHECK(highest_speed(drive).rpm() == Approx(3276.7));
  drive.limits.speed = rpm(3000);
  CHECK(highest_speed(drive).rpm() == Approx(3000));
}
