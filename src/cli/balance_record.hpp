// What guided balancing keeps with its coats: which masses were on the rotor, and what came of the
// run. A coat read later would otherwise be taken for the bare plate's.
//
// The masses stand twice: in the coat's side, which is on disk before anything turns ("trial
// 1.3g@180deg@25mm"), and exactly in a note of the kind "balancing":
//
//   {"run": "trial", "masses_on": [{"mass_g", "angle_deg", "radius_mm"}, …],
//    "unbalance": {"g_mm", "angle_deg"}, "add": [masses], "next": [masses]}
//
// "unbalance" is what the rotor has, of a trial without the trial mass, of a correction with it;
// "add" is what the next run should have beside what is on; "next", kept before the question
// whether they are on, all that it is to have.
#pragma once

#include "context.hpp"
#include "whirler/balance/influence.hpp"
#include "whirler/notebook/coat.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::cli {

inline constexpr const char* kBalanceNote = "balancing";
inline constexpr const char* kBalanceProfile = "balancing"; ///< name of the guided runs' profile

struct BalanceRecord {
  std::string run; ///< "as it is", "trial", "correction"
  std::vector<balance::PlacedMass> on;
  std::optional<balance::PlacedUnbalance> unbalance{};
  std::vector<balance::PlacedMass> add{};
  std::vector<balance::PlacedMass> next{}; ///< all that the person was told to have on next
};

/// A coat's side for such a run: "correction 0.1g@300deg@25mm + 2.3g@330deg@25mm".
[[nodiscard]] std::string balance_side(const BalanceRecord& record);
[[nodiscard]] Json balance_document(const BalanceRecord& record);
/// For people: "trial, on: 1.3g@180deg@25mm; unbalance 63.7 g mm at 36 deg; add 2.55g@216deg@25mm".
[[nodiscard]] std::string balance_text(const Json& document);

/// The masses that were on the rotor in this coat's run. Fault (input): there were some, and the
/// record does not say how heavy.
[[nodiscard]] Result<std::vector<balance::PlacedMass>> masses_on(const notebook::Coat& coat);

/// The masses that were to be put on after this coat's run; none where nobody was told to.
[[nodiscard]] std::vector<balance::PlacedMass> masses_told(const notebook::Coat& coat);

/// "0.8g@0deg@25mm", as it is typed.
[[nodiscard]] std::string typed_form(const balance::PlacedMass& mass);
/// "0.1g@300deg@25mm, 2.3g@330deg@25mm".
[[nodiscard]] std::string list_text(const std::vector<balance::PlacedMass>& masses,
                                    std::string_view between = ", ");
[[nodiscard]] Json to_json(const balance::PlacedMass& mass);
[[nodiscard]] Json list_json(const std::vector<balance::PlacedMass>& masses);

} // namespace whirler::cli
