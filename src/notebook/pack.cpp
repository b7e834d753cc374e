#include "whirler/notebook/pack.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace whirler::notebook {
namespace {

// Differences are taken in unsigned arithmetic, where they wrap and are undone exactly.
std::uint64_t bits(std::int64_t value) { return static_cast<std::uint64_t>(value); }
std::int64_t value_of(std::uint64_t bit_pattern) { return static_cast<std::int64_t>(bit_pattern); }

class Packer {
 public:
  void add(std::uint64_t value) {
    for (; value >= 0x80U; value >>= 7U)
      bytes_.push_back(static_cast<std::uint8_t>(value | 0x80U));
    bytes_.push_back(static_cast<std::uint8_t>(value));
  }
  void add_signed(std::int64_t value) { add((bits(value) << 1U) ^ bits(value >> 63)); }
  [[nodiscard]] Blob take() && { return std::move(bytes_); }

 private:
  Blob bytes_;
};

class Unpacker {
 public:
  explicit Unpacker(std::span<const std::uint8_t> bytes) : rest_(bytes) {}
  std::uint64_t next() {
    std::uint64_t value = 0;
    for (unsigned shift = 0; shift < 64; shift += 7) {
      if (rest_.empty())
        break;
      const std::uint8_t byte = rest_.front();
      rest_ = rest_.subspan(1);
      value |= static_cast<std::uint64_t>(byte & 0x7FU) << shift;
      if ((byte & 0x80U) == 0)
        return value;
    }
    good_ = false;
    return 0;
  }
  std::int64_t next_signed() {
    const std::uint64_t folded = next();
    return value_of((folded >> 1U) ^ (~(folded & 1U) + 1U));
  }
  /// A count of things that each take at least `bytes_each` of what is left.
  std::size_t next_count(std::size_t bytes_each) {
    const std::uint64_t count = next();
    if (count > rest_.size() / bytes_each)
      good_ = false;
    return good_ ? static_cast<std::size_t>(count) : 0;
  }
  [[nodiscard]] bool good() const { return good_; }
  [[nodiscard]] bool at_end() const { return good_ && rest_.empty(); }

 private:
  std::span<const std::uint8_t> rest_;
  bool good_ = true;
};

// ---- ticks

/// What an interval is expected to be: the one `lag` pulses before, or the last, or none.
std::uint64_t expected(const std::vector<std::uint64_t>& intervals, std::size_t lag) {
  if (intervals.empty())
    return 0;
  return intervals.size() >= lag ? intervals[intervals.size() - lag] : intervals.back();
}

void pack_ticks(Packer& out, const std::vector<std::int64_t>& ticks, std::size_t lag) {
  std::vector<std::uint64_t> intervals;
  intervals.reserve(ticks.size());
  for (std::size_t i = 1; i < ticks.size(); ++i) {
    const std::uint64_t interval = bits(ticks[i]) - bits(ticks[i - 1]);
    out.add_signed(value_of(interval - expected(intervals, lag)));
    intervals.push_back(interval);
  }
}

void unpack_ticks(Unpacker& in, std::vector<std::int64_t>& ticks, std::size_t count,
                  std::size_t lag) {
  std::vector<std::uint64_t> intervals;
  for (std::size_t i = 1; i < count && in.good(); ++i) {
    const std::uint64_t interval = bits(in.next_signed()) + expected(intervals, lag);
    ticks.push_back(value_of(bits(ticks.back()) + interval));
    intervals.push_back(interval);
  }
}

// ---- marks

void pack_marks(Packer& out, const std::vector<std::int16_t>& marks) {
  const bool known = std::any_of(marks.begin(), marks.end(), [](auto mark) { return mark >= 0; });
  out.add(known ? 1 : 0);
  if (!known)
    return;
  std::int64_t next = 0;
  std::uint64_t run = 0;
  for (const std::int16_t mark : marks) {
    if (mark == next) {
      ++run;
    } else {
      out.add(run);
      out.add_signed(mark - next);
      run = 0;
    }
    next = std::int64_t{mark} + 1;
  }
  out.add(run);
}

bool unpack_marks(Unpacker& in, std::vector<std::int16_t>& marks, std::size_t count) {
  const std::uint64_t form = in.next();
  if (form != 1)
    return form == 0;
  std::int64_t next = 0;
  while (in.good()) {
    const std::uint64_t run = in.next();
    if (run > count - marks.size())
      return false;
    for (std::uint64_t i = 0; i < run; ++i, ++next)
      marks.push_back(static_cast<std::int16_t>(next));
    if (marks.size() == count)
      return true;
    next = value_of(bits(next) + bits(in.next_signed()));
    if (next < -1 || next > std::numeric_limits<std::int16_t>::max())
      return false;
    marks.push_back(static_cast<std::int16_t>(next++));
  }
  return false;
}

bool all_in_range(const std::vector<std::int16_t>& marks) {
  return std::all_of(marks.begin(), marks.end(), [](auto mark) { return mark >= -1; });
}

// ---- samples

using Fields = std::array<std::int64_t, 6>;

Fields fields_of(const Sample& sample) {
  return {to_us(sample.at),          to_mrpm(sample.speed),          to_mrpm(sample.target),
          to_us(sample.drive_clock), to_thousandths(sample.command), sample.segment};
}

std::optional<Sample> sample_of(const Fields& fields) {
  if (fields[5] < std::numeric_limits<int>::min() || fields[5] > std::numeric_limits<int>::max())
    return std::nullopt;
  const Sample sample{from_us(fields[0]),
                      from_mrpm(fields[1]),
                      from_mrpm(fields[2]),
                      from_us(fields[3]),
                      static_cast<double>(fields[4]) / 1000.0,
                      static_cast<int>(fields[5])};
  if (fields_of(sample) != fields) // more digits than a double keeps: nobody packed that
    return std::nullopt;
  return sample;
}

std::int64_t rounded(double value) {
  constexpr double kMost = 9e15; // whole numbers that a double holds exactly
  return std::abs(value) <= kMost ? std::llround(value) : 0;
}

} // namespace

std::int64_t to_us(Duration time) { return rounded(time.s() * 1e6); }
Duration from_us(std::int64_t us) { return seconds(static_cast<double>(us) / 1e6); }
std::int64_t to_mrpm(Speed speed) { return rounded(speed.rpm() * 1000.0); }
Speed from_mrpm(std::int64_t mrpm) { return rpm(static_cast<double>(mrpm) / 1000.0); }
std::int64_t to_thousandths(double share) { return rounded(share * 1000.0); }

Blob pack(const PulseChunk& chunk, int marks_per_turn) {
  const auto lag = static_cast<std::size_t>(std::max(marks_per_turn, 1));
  Packer out;
  out.add(chunk.ticks.size());
  out.add(lag);
  if (!chunk.ticks.empty())
    out.add_signed(chunk.ticks.front());
  pack_ticks(out, chunk.ticks, lag);
  pack_marks(out, chunk.marks);
  out.add(chunk.gaps.size());
  for (const Gap& gap : chunk.gaps) {
    out.add(gap.before);
    out.add(gap.lost);
  }
  return std::move(out).take();
}

std::optional<PulseChunk> unpack_pulses(std::span<const std::uint8_t> bytes) {
  Unpacker in(bytes);
  PulseChunk chunk;
  const std::size_t count = in.next_count(1);
  const std::uint64_t lag = in.next();
  if (!in.good() || lag == 0 || lag > std::numeric_limits<std::uint32_t>::max())
    return std::nullopt;
  if (count > 0)
    chunk.ticks.push_back(in.next_signed());
  unpack_ticks(in, chunk.ticks, count, static_cast<std::size_t>(lag));
  if (!in.good() || !unpack_marks(in, chunk.marks, count) || !all_in_range(chunk.marks))
    return std::nullopt;
  const std::size_t gaps = in.next_count(2);
  for (std::size_t i = 0; i < gaps; ++i) {
    const std::uint64_t before = in.next();
    chunk.gaps.push_back({before, in.next()});
    if (before > count)
      return std::nullopt;
  }
  return in.at_end() ? std::optional(std::move(chunk)) : std::nullopt;
}

Blob pack(std::span<const Sample> samples) {
  Packer out;
  out.add(samples.size());
  Fields last{};
  for (const Sample& sample : samples) {
    const Fields fields = fields_of(sample);
    for (std::size_t i = 0; i < fields.size(); ++i)
      out.add_signed(value_of(bits(fields[i]) - bits(last[i])));
    last = fields;
  }
  return std::move(out).take();
}

std::optional<std::vector<Sample>> unpack_samples(std::span<const std::uint8_t> bytes) {
  Unpacker in(bytes);
  std::vector<Sample> samples;
  Fields fields{};
  const std::size_t count = in.next_count(fields.size());
  for (std::size_t i = 0; i < count; ++i) {
    for (std::int64_t& field : fields)
      field = value_of(bits(field) + bits(in.next_signed()));
    const auto sample = sample_of(fields);
    if (!sample || !in.good())
      return std::nullopt;
    samples.push_back(*sample);
  }
  return in.at_end() ? std::optional(std::move(samples)) : std::nullopt;
}

} // namespace whirler::notebook
