// What a drive file says, as it is read: with keys that may be missing or stand for one another.
// drive_file.cpp makes a modbus::Description of it.
#pragma once

#include "drive_cells.hpp"

#include <optional>

namespace whirler::files {

struct ActualDraft : modbus::Scaled<Speed> {
  modbus::SpeedSource from = modbus::SpeedSource::estimate;
};

struct SlopeDraft {
  modbus::Cell cell;
  std::optional<Ramp> rate;
  std::optional<Duration> time;
  std::optional<Speed> span;
  bool span_stands = false;
  bool time_stands = false;
};

struct DirectionDraft {
  modbus::Cell cell;
  std::optional<std::uint16_t> cw;
  std::optional<std::uint16_t> ccw;
  bool cw_stands = false;
  bool ccw_stands = false;
  bool negative_is_ccw = true;
  bool by_sign = false;
};

struct RunDraft {
  modbus::Cell cell;
  std::optional<std::uint16_t> on, cw, ccw; ///< "on", or one value for each direction
  std::uint16_t off = 0;
};

struct FaultDraft {
  modbus::Cell cell;
  std::optional<std::uint16_t> said_mask;
  std::vector<modbus::NamedBit> bits;

  [[nodiscard]] std::uint16_t mask() const { return mask_of(said_mask, cell); }
};

struct RunningDraft {
  modbus::Cell cell;
  std::optional<std::uint16_t> said_mask;
  std::uint16_t value = 0;

  [[nodiscard]] std::uint16_t mask() const { return mask_of(said_mask, cell); }
};

struct ResetDraft {
  modbus::Cell cell;
  std::uint16_t value = 1;
};

struct DeadManDraft {
  modbus::Scaled<Duration> set_by;
  std::optional<Duration> scale;
  std::optional<Duration> time;
  std::optional<Duration> fixed;
  bool scale_stands = false;
  bool time_stands = false;
};

struct ReplyDraft {
  Duration within = milliseconds(100.0);
  int retries = 2;
};

struct DriveDraft : modbus::Description {
  std::optional<SlopeDraft> slope_draft;
  bool slope_stands = false;
  std::optional<SlopeDraft> slope_down_draft;
  std::optional<DirectionDraft> direction_draft;
  std::optional<RunDraft> run;
  FaultDraft fault_draft;
  std::optional<RunningDraft> running_draft;
  std::optional<ResetDraft> reset;
  std::optional<DeadManDraft> dead_man_draft;
  ActualDraft actual_draft;
  ReplyDraft reply;
};

[[nodiscard]] std::optional<modbus::SlopeRegister>
slope_from(const std::optional<SlopeDraft>& draft);

[[nodiscard]] Schema<modbus::Scaled<Speed>> target_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<ActualDraft> actual_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<SlopeDraft> slope_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<DirectionDraft> direction_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<RunDraft> run_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<ResetDraft> reset_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<FaultDraft> fault_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<modbus::FaultCode> code_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<RunningDraft> running_schema(const CellDefaults& defaults);
[[nodiscard]] Schema<DeadManDraft> dead_man_schema(const CellDefaults& defaults);

/// The rules that join the keys of a whole drive: what cannot stop it, what starts it too soon,
/// what shares a register, what its registers cannot hold.
[[nodiscard]] std::vector<Rule<DriveDraft>> stop_rules();
[[nodiscard]] std::vector<Rule<DriveDraft>> register_rules();
[[nodiscard]] std::vector<Rule<DriveDraft>> reach_rules();
[[nodiscard]] std::vector<Rule<DriveDraft>> running_rules();

} // namespace whirler::files
