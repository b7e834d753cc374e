// The answer of `balance`: figures, and how they are said, written and drawn.
#pragma once

#include "balance_record.hpp"
#include "context.hpp"
#include "plate_input.hpp"
#include "whirler/balance/cures.hpp"
#include "whirler/balance/four_runs.hpp"
#include "whirler/balance/places.hpp"
#include "whirler/report/polar_plot.hpp"

#include <optional>
#include <string>
#include <vector>

namespace whirler::cli {

/// What the grade allows.
struct Allowed {
  Velocity grade;
  Speed speed;
  Mass mass;
  Unbalance unbalance;
};

struct Found {
  balance::Correction correction;
  std::optional<double> consistency; ///< of four runs without phase
  balance::PlacedMass to_add;        ///< the correction, less a trial mass that stays on
  std::optional<balance::PlacedMass> left_on = std::nullopt; ///< the trial, where it stays
};

struct BalanceAnswer {
  Plate plate;
  std::optional<Allowed> allowed;
  std::optional<Found> found;
  std::optional<balance::Shares> shares;
  std::optional<Fault> no_share;       ///< why the places cannot take the correction
  std::optional<Mass> finer_step;      ///< of masses, where the one asked for serves no hole
  std::optional<balance::Cures> cures; ///< in rotor angles; with a plate only
  bool noise_given = false;            ///< else the spread is that of published trials
  bool guided = false;                 ///< by the machine's own runs, whose noise is known
};

/// Shares `to_add` out among the places, where there are any; where its steps leave every hole
/// empty, with the step that would do. Where the places cannot take it, `no_share` says why: the
/// rest of the answer is as good as ever.
void share_out(BalanceAnswer& answer, const std::vector<balance::Place>& places,
               const balance::PlaceLimits& limits);

/// The places are there, and half a step is more than any of them should have.
[[nodiscard]] bool no_hole_takes_it(const BalanceAnswer& answer);
/// First that it cannot be done, then what can.
void say_no_hole(std::vector<std::string>& lines, const BalanceAnswer& answer);

/// Readings and bound say that the unbalance as it is keeps the grade.
[[nodiscard]] bool keeps_already(const BalanceAnswer& answer);

/// What else can be done about the plate, where a trial has said how far it is off and a plate is
/// known.
[[nodiscard]] Result<std::optional<balance::Cures>> cures_of(const BalanceAnswer& answer);

[[nodiscard]] std::vector<std::string> words(const BalanceAnswer& answer);
[[nodiscard]] Json to_json(const BalanceAnswer& answer);
/// The rotor's face: the unbalance with its spread, the correction, the circle of the grade.
[[nodiscard]] report::Drawing drawing(const BalanceAnswer& answer);

} // namespace whirler::cli
