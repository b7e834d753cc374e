#include "drive_draft.hpp"
#include "whirler/units/text.hpp"

#include <cmath>

namespace whirler::files {

using namespace modbus;

Schema<Scaled<Speed>> target_schema(const CellDefaults& defaults) {
  Schema<Scaled<Speed>> schema;
  add_cell(schema, &Scaled<Speed>::cell, Use::write, defaults, Holds::number);
  schema.fields.push_back(quantity("scale_rpm", required, above(0, 1e6, "rpm a count"),
                                   &Scaled<Speed>::scale, whirler::rpm));
  schema.fields.push_back(quantity("offset_rpm", optional, from_to(-30'000, 30'000, "rpm"),
                                   &Scaled<Speed>::offset, whirler::rpm));
  return schema;
}

Schema<ActualDraft> actual_schema(const CellDefaults& defaults) {
  Schema<ActualDraft> schema;
  add_cell(schema, &Scaled<Speed>::cell, Use::read, defaults, Holds::number);
  schema.fields.push_back(quantity<ActualDraft>("scale_rpm", required, above(0, 1e6, "rpm a count"),
                                                &Scaled<Speed>::scale, whirler::rpm));
  schema.fields.push_back(quantity<ActualDraft>("offset_rpm", optional,
                                                from_to(-30'000, 30'000, "rpm"),
                                                &Scaled<Speed>::offset, whirler::rpm));
  schema.fields.push_back(word<ActualDraft, SpeedSource>(
      "from", required, {{"encoder", SpeedSource::encoder}, {"estimate", SpeedSource::estimate}},
      &ActualDraft::from));
  return schema;
}

namespace {

Conflicts span_not_with_time(const SlopeDraft& slope) {
  if (slope.time_stands == slope.span_stands)
    return {};
  const bool extra = slope.span_stands;
  return {{extra ? "to_rpm" : "", extra ? "\"to_rpm\" beside a rate" : "no \"to_rpm\"",
           "\"to_rpm\" with \"scale_s\", and only there: the speed that the time is for",
           extra ? "take it out" : "add it"}};
}

} // namespace

Schema<SlopeDraft> slope_schema(const CellDefaults& defaults) {
  Schema<SlopeDraft> schema;
  add_cell(schema, &SlopeDraft::cell, Use::write, defaults, Holds::number);
  schema.fields.push_back(quantity("scale_rpm_s", optional, above(0, 1e6, "rpm/s a count"),
                                   &SlopeDraft::rate, whirler::rpm_per_s));
  schema.fields.push_back(
      noted(quantity("scale_s", optional, above(0, 1000, "s a count"), &SlopeDraft::time, seconds),
            &SlopeDraft::time_stands));
  schema.fields.push_back(
      noted(quantity("to_rpm", optional, above(0, 1e6, "rpm"), &SlopeDraft::span, whirler::rpm),
            &SlopeDraft::span_stands));
  schema.one_of = {{"scale_rpm_s", "scale_s"}};
  schema.rules.push_back({{}, span_not_with_time});
  return schema;
}

std::optional<SlopeRegister> slope_from(const std::optional<SlopeDraft>& draft) {
  if (!draft)
    return std::nullopt;
  if (draft->rate)
    return SlopeRegister{draft->cell, *draft->rate, {}};
  return SlopeRegister{draft->cell, *draft->time, *draft->span};
}

namespace {

Conflicts direction_missing(const DirectionDraft& direction) {
  if (direction.cw_stands && direction.ccw_stands)
    return {};
  return {{"", "not both of \"cw\" and \"ccw\"", "what to write for each direction", "add both"}};
}

Conflicts directions_equal(const DirectionDraft& direction) {
  if (*direction.cw == *direction.ccw)
    return {{"ccw", word_text(*direction.ccw), "another value than \"cw\"", "correct one"}};
  return {};
}

/// Such as function 5 takes it.
template <class T>
Rule<T> for_a_coil(const std::string& key, std::optional<std::uint16_t> T::*member) {
  return {{"address", key},
          [=](const T& part) { return coil_conflicts(part.cell, key, part.*member); }};
}

} // namespace

Schema<DirectionDraft> direction_schema(const CellDefaults& defaults) {
  Schema<DirectionDraft> schema;
  add_cell(schema, &DirectionDraft::cell, Use::write, defaults, Holds::word_or_bits, optional);
  schema.fields.push_back(noted(said_word("cw", &DirectionDraft::cw), &DirectionDraft::cw_stands));
  schema.fields.push_back(
      noted(said_word("ccw", &DirectionDraft::ccw), &DirectionDraft::ccw_stands));
  schema.fields.push_back(custom<DirectionDraft>(
      "negative", optional, "\"cw\" or \"ccw\"", [](const Place& place, DirectionDraft& into) {
        const auto chosen = read_word(place, {"cw", "ccw"});
        into.by_sign = true;
        into.negative_is_ccw = chosen && *chosen == 1;
        return chosen.has_value();
      }));
  schema.one_of = {{"address", "negative"}};
  schema.rules.push_back({{"address"}, direction_missing});
  schema.rules.push_back({{"address", "cw", "ccw"}, directions_equal});
  schema.rules.push_back(for_a_coil("cw", &DirectionDraft::cw));
  schema.rules.push_back(for_a_coil("ccw", &DirectionDraft::ccw));
  return schema;
}

namespace {

Conflicts on_is_off(const RunDraft& run) {
  Conflicts found;
  for (const auto& [key, value] : {std::pair{"on", run.on}, {"cw", run.cw}, {"ccw", run.ccw}})
    if (value == run.off)
      found.push_back({"off", word_text(run.off), std::string("another value than \"") + key + "\"",
                       "correct one"});
  return found;
}

Conflicts one_way_missing(const RunDraft& run) {
  if (run.cw.has_value() == run.ccw.has_value())
    return {};
  return {{"", std::string("no \"") + (run.cw ? "ccw" : "cw") + "\"",
           "what starts it in each direction: \"cw\" and \"ccw\"", "add it"}};
}

} // namespace

Schema<RunDraft> run_schema(const CellDefaults& defaults) {
  Schema<RunDraft> schema;
  add_cell(schema, &RunDraft::cell, Use::write, defaults, Holds::word_or_bits);
  schema.fields.push_back(said_word("on", &RunDraft::on));
  schema.fields.push_back(said_word("cw", &RunDraft::cw));
  schema.fields.push_back(said_word("ccw", &RunDraft::ccw));
  schema.fields.push_back(word16<RunDraft>("off", required, &RunDraft::off));
  schema.one_of = {{"on", "cw"}};
  schema.rules.push_back({{"off"}, on_is_off});
  schema.rules.push_back({{}, one_way_missing});
  for (const auto& [key, member] :
       {std::pair{"on", &RunDraft::on}, {"cw", &RunDraft::cw}, {"ccw", &RunDraft::ccw}})
    schema.rules.push_back(for_a_coil(key, member));
  schema.rules.push_back(
      {{"off"}, [](const RunDraft& run) { return coil_conflicts(run.cell, "off", run.off); }});
  return schema;
}

Schema<ResetDraft> reset_schema(const CellDefaults& defaults) {
  Schema<ResetDraft> schema;
  add_cell(schema, &ResetDraft::cell, Use::write, defaults, Holds::word_or_bits);
  schema.fields.push_back(word16<ResetDraft>("value", required, &ResetDraft::value));
  schema.rules.push_back({{"value"}, [](const ResetDraft& reset) {
                            return coil_conflicts(reset.cell, "value", reset.value);
                          }});
  return schema;
}

namespace {

/// Bits that the mask hides would never be said.
Conflicts hidden_bits(const FaultDraft& fault) {
  Conflicts found;
  for (std::size_t i = 0; i < fault.bits.size(); ++i)
    if ((fault.mask() & (1U << static_cast<unsigned>(fault.bits[i].bit))) == 0)
      found.push_back({"bits/" + std::to_string(i), "bit " + std::to_string(fault.bits[i].bit),
                       "a bit of the mask, which is " + word_text(fault.mask()),
                       "correct the bit or the mask"});
  return found;
}

Conflicts repeated_bits(const FaultDraft& fault) {
  Conflicts found;
  for (std::size_t i = 0; i < fault.bits.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (fault.bits[i].bit == fault.bits[k].bit)
        found.push_back({"bits/" + std::to_string(i),
                         "bit " + std::to_string(fault.bits[i].bit) + " a second time",
                         "each bit once", "join the two"});
  return found;
}

Conflicts no_bits(const FaultDraft& fault) {
  if (fault.mask() != 0)
    return {};
  return {{"mask", "0x0000", "at least one bit", "name the bits that mean a fault"}};
}

} // namespace

Schema<FaultDraft> fault_schema(const CellDefaults& defaults) {
  Schema<FaultDraft> schema;
  add_cell(schema, &FaultDraft::cell, Use::read, defaults, Holds::word_or_bits);
  schema.fields.push_back(said_word("mask", &FaultDraft::said_mask));
  const Schema<NamedBit> bit{
      {integer("bit", required, 0, 15, &NamedBit::bit), text("says", required, &NamedBit::words)},
      {},
      {}};
  schema.fields.push_back(list("bits", optional, 1, 16, bit, &FaultDraft::bits));
  schema.rules.push_back({{"bits"}, hidden_bits});
  schema.rules.push_back({{"bits"}, repeated_bits});
  schema.rules.push_back({{"mask"}, no_bits});
  return schema;
}

Schema<FaultCode> code_schema(const CellDefaults& defaults) {
  Schema<FaultCode> schema;
  add_cell(schema, &FaultCode::cell, Use::read, defaults, Holds::word);
  const Schema<NamedCode> code{{word16<NamedCode>("code", required, &NamedCode::code),
                                text("says", required, &NamedCode::words)},
                               {},
                               {}};
  schema.fields.push_back(list("codes", required, 1, 500, code, &FaultCode::codes));
  return schema;
}

Schema<RunningDraft> running_schema(const CellDefaults& defaults) {
  Schema<RunningDraft> schema;
  add_cell(schema, &RunningDraft::cell, Use::read, defaults, Holds::word_or_bits);
  schema.fields.push_back(said_word("mask", &RunningDraft::said_mask));
  schema.fields.push_back(word16<RunningDraft>("value", required, &RunningDraft::value));
  schema.rules.push_back({{"value"}, [](const RunningDraft& test) {
                            return mask_conflicts(test.mask(), test.value);
                          }});
  return schema;
}

namespace {

Conflicts time_missing(const DeadManDraft& dead_man) {
  if (dead_man.scale_stands && dead_man.time_stands)
    return {};
  return {{"", "not both of \"scale_s\" and \"time_ms\"",
           "the time to write, and the time that one count stands for", "add both"}};
}

Conflicts time_not_held(const DeadManDraft& dead_man) {
  const Scaled<Duration> set_by{dead_man.set_by.cell, *dead_man.scale, dead_man.set_by.offset};
  const auto words = set_by.words_for(*dead_man.time);
  const bool held = words && from_words(set_by.cell, *words) > 0.0 &&
                    std::abs(set_by.value_of(*words) / *dead_man.time - 1.0) < 0.01;
  if (held)
    return {};
  return {{"time_ms", number_text(dead_man.time->ms(), 6),
           "a whole number of counts above zero; one is " + number_text(dead_man.scale->ms(), 6) +
               " ms",
           "a rounded time may be longer than you think, and zero often switches it off"}};
}

Conflicts fixed_with_register(const DeadManDraft& dead_man) {
  if (!dead_man.scale_stands && !dead_man.time_stands)
    return {};
  return {{dead_man.time_stands ? "time_ms" : "scale_s", "a key of a register beside \"fixed_ms\"",
           "\"fixed_ms\" alone, for a time that is set at the drive's own panel", "take it out"}};
}

} // namespace

Schema<DeadManDraft> dead_man_schema(const CellDefaults& defaults) {
  Schema<Scaled<Duration>> cell;
  add_cell(cell, &Scaled<Duration>::cell, Use::write, defaults, Holds::number, optional);
  Schema<DeadManDraft> schema;
  for (const auto& field : cell.fields)
    schema.fields.push_back(custom<DeadManDraft>(
        field.key, field.need, field.allowed,
        [read = field.read](const Place& p, DeadManDraft& d) { return read(p, d.set_by); }));
  schema.rules.push_back(
      {{"address"}, [](const DeadManDraft& draft) { return cell_conflicts(draft.set_by.cell); }});
  const Range time = from_to(100, 1000, "ms");
  schema.fields.push_back(
      noted(quantity("scale_s", optional, above(0, 10, "s a count"), &DeadManDraft::scale, seconds),
            &DeadManDraft::scale_stands));
  schema.fields.push_back(
      noted(quantity("time_ms", optional, time, &DeadManDraft::time, whirler::milliseconds),
            &DeadManDraft::time_stands));
  schema.fields.push_back(
      quantity("fixed_ms", optional, time, &DeadManDraft::fixed, whirler::milliseconds));
  schema.one_of = {{"address", "fixed_ms"}};
  schema.rules.push_back({{"address"}, time_missing});
  schema.rules.push_back({{"address", "scale_s", "time_ms"}, time_not_held});
  schema.rules.push_back({{"fixed_ms"}, fixed_with_register});
  return schema;
}

} // namespace whirler::files
