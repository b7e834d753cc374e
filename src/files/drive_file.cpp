#include "drive_draft.hpp"
#include "whirler/files/read.hpp"
#include "whirler/units/text.hpp"

namespace whirler::files {
namespace {

using namespace modbus;

/// Both of a register with a meaning of its own and the sequence that would be made of it.
Rule<DriveDraft> not_both(const std::string& one, const std::string& other) {
  return {{one, other}, [=](const DriveDraft&) -> Conflicts {
            return {{other, "\"" + other + "\" beside \"" + one + "\"", "one of the two",
                     "take \"" + one + "\" out and keep the sequence, or the other way round"}};
          }};
}

Conflicts braking_alone(const DriveDraft& draft) {
  if (draft.slope_stands)
    return {};
  return {{"slope_down", "a slope for braking alone", "\"slope\" beside it", "add \"slope\""}};
}

Conflicts slower_than_dead_man(const DriveDraft& draft) {
  const auto& dead_man = *draft.dead_man_draft;
  const Duration time = dead_man.fixed ? *dead_man.fixed : dead_man.time.value_or(seconds(1));
  if (2.0 * draft.reply.within <= time)
    return {};
  return {{"reply/within_ms", number_text(draft.reply.within.ms(), 6),
           "at most half of the dead-man's time, which is " + number_text(time.ms(), 6) + " ms",
           "one lost reply must not stop the drive"}};
}

/// A stop must not wait for anything before its first word.
Rule<DriveDraft> begins_with_write(const std::string& key, Sequence Description::*sequence) {
  return {{key}, [=](const DriveDraft& draft) -> Conflicts {
            if (std::holds_alternative<WriteStep>((draft.*sequence).front()))
              return {};
            return {{key + "/0", "a wait", "a write first: a stop must not wait",
                     "put the write before it"}};
          }};
}

Schema<Limits> limits_schema() {
  return {
      {quantity("speed_rpm", optional, above(0, 100'000, "rpm"), &Limits::speed, rpm),
       quantity("speed_min_rpm", optional, from_to(0, 100'000, "rpm"), &Limits::speed_min, rpm),
       quantity("ramp_rpm_s", optional, above(0, 1'000'000, "rpm/s"), &Limits::ramp, rpm_per_s)},
      {},
      {{{"speed_rpm", "speed_min_rpm"}, [](const Limits& limits) -> Conflicts {
          if (*limits.speed_min <= *limits.speed)
            return {};
          return {{"speed_min_rpm", number_text(limits.speed_min->rpm(), 6),
                   "at most speed_rpm, which is " + number_text(limits.speed->rpm(), 6),
                   "correct one of the two"}};
        }}}};
}

Schema<ReplyDraft> reply_schema() {
  return {{quantity("within_ms", optional, from_to(5, 500, "ms"), &ReplyDraft::within,
                    whirler::milliseconds),
           integer("retries", optional, 0, 5, &ReplyDraft::retries)},
          {},
          {}};
}

void add_register_fields(Schema<DriveDraft>& schema, const CellDefaults& defaults) {
  using D = DriveDraft;
  auto& fields = schema.fields;
  fields.push_back(part<D>("target", required, target_schema(defaults), &D::target));
  fields.push_back(part<D>("actual", required, actual_schema(defaults), &D::actual_draft));
  fields.push_back(
      noted(part<D>("slope", optional, slope_schema(defaults), &D::slope_draft), &D::slope_stands));
  fields.push_back(part<D>("slope_down", optional, slope_schema(defaults), &D::slope_down_draft));
  fields.push_back(part<D>("direction", optional, direction_schema(defaults), &D::direction_draft));
  fields.push_back(part<D>("run", optional, run_schema(defaults), &D::run));
  fields.push_back(part<D>("fault", required, fault_schema(defaults), &D::fault_draft));
  fields.push_back(part<D>("fault_code", optional, code_schema(defaults), &D::fault_code));
  fields.push_back(part<D>("fault_reset", optional, reset_schema(defaults), &D::reset));
  fields.push_back(part<D>("running", optional, running_schema(defaults), &D::running_draft));
  fields.push_back(part<D>("dead_man", optional, dead_man_schema(defaults), &D::dead_man_draft));
  for (const auto& [key, member] : {std::pair{"setup", &D::setup},
                                    {"clear", &D::clear},
                                    {"start", &D::start},
                                    {"stop", &D::stop},
                                    {"cut", &D::cut}})
    fields.push_back(sequence<D>(key, member, defaults));
}

/// The keys at the top that `cell_defaults` has looked for already.
template <class Into, bool (*reader)(const Place&, Into&)>
Field<DriveDraft> seen_before(std::string key) {
  return custom<DriveDraft>(std::move(key), optional, "", [](const Place& place, DriveDraft&) {
    Into unused{};
    return reader(place, unused);
  });
}

bool read_reading(const Place& place, Function& into) {
  return read_function(place, Use::read, Holds::word, into);
}
bool read_writing(const Place& place, Function& into) {
  return read_function(place, Use::write, Holds::word, into);
}

Schema<DriveDraft> drive_schema(const CellDefaults& defaults) {
  using D = DriveDraft;
  Schema<D> schema;
  schema.fields = {text<D>("name", required, &D::name),
                   integer<D>("unit", optional, kUnitLowest, kUnitHighest, &D::unit),
                   part<D>("reply", optional, reply_schema(), &D::reply),
                   seen_before<Function, read_reading>("read_function"),
                   seen_before<Function, read_writing>("write_function"),
                   seen_before<WordOrder, read_order>("word_order"),
                   part<D>("limits", optional, limits_schema(), &D::limits)};
  add_register_fields(schema, defaults);
  schema.one_of = {{"run", "start"}, {"run", "stop"}};
  schema.rules = {not_both("fault_reset", "clear"),
                  begins_with_write("stop", &D::stop),
                  begins_with_write("cut", &D::cut),
                  {{"slope_down"}, braking_alone},
                  {{"dead_man"}, slower_than_dead_man}};
  for (const auto& rules : {stop_rules(), register_rules(), reach_rules(), running_rules()})
    schema.rules.insert(schema.rules.end(), rules.begin(), rules.end());
  return schema;
}

std::optional<Direction> direction_from(const std::optional<DirectionDraft>& draft) {
  if (!draft)
    return std::nullopt;
  if (draft->by_sign)
    return Direction{std::nullopt, 0, 0, draft->negative_is_ccw};
  return Direction{draft->cell, *draft->cw, *draft->ccw, true};
}

std::optional<DeadMan> dead_man_from(const std::optional<DeadManDraft>& draft) {
  if (!draft)
    return std::nullopt;
  if (draft->fixed)
    return DeadMan{*draft->fixed, std::nullopt};
  return DeadMan{*draft->time,
                 Scaled<Duration>{draft->set_by.cell, *draft->scale, draft->set_by.offset}};
}

/// The sequences that named registers stand for.
void write_sequences(const DriveDraft& draft, Description& drive) {
  if (draft.run) {
    const auto& run = *draft.run;
    drive.start = {WriteStep{run.cell, run.on.value_or(run.cw.value_or(0)), run.ccw}};
    drive.stop = {WriteStep{run.cell, run.off, std::nullopt}};
  }
  if (draft.reset)
    drive.clear = {WriteStep{draft.reset->cell, draft.reset->value, std::nullopt},
                   WaitStep{drive.fault.cell, drive.fault.mask, 0, seconds(1)}};
}

Description assembled(DriveDraft draft) {
  Description drive = draft;
  drive.actual = draft.actual_draft;
  drive.actual_from = draft.actual_draft.from;
  const auto& fault = draft.fault_draft;
  drive.fault = {masked(fault.cell, fault.mask()), fault.mask(), fault.bits};
  if (const auto& test = draft.running_draft)
    drive.running = RunningTest{masked(test->cell, test->mask()), test->mask(), test->value};
  drive.reply_within = draft.reply.within;
  drive.retries = draft.reply.retries;
  drive.slope = slope_from(draft.slope_draft);
  drive.slope_down = slope_from(draft.slope_down_draft);
  drive.direction = direction_from(draft.direction_draft);
  drive.dead_man = dead_man_from(draft.dead_man_draft);
  write_sequences(draft, drive);
  return drive;
}

} // namespace

Read<modbus::Description> read_drive(std::string_view text, const std::string& file) {
  auto read = read_file(text, file, "drive", drive_schema(cell_defaults(text)));
  if (!read)
    return read.faults();
  return assembled(std::move(read).value());
}

} // namespace whirler::files
