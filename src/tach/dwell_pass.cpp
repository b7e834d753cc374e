#include "dwell_pass.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace whirler::tach {
namespace {

constexpr std::size_t kMostBlocks = 40;
constexpr std::size_t kBlockTurns = 6; ///< at least; fewer say little of their own vector
constexpr std::size_t kPieceTurns = 256;
constexpr std::size_t kLookAhead = 32;  ///< turns; 4^-32 is no number any more
constexpr double kOutlierTurn = 12.0;   ///< a turn's mean square over the piece's, to be looked at
constexpr std::size_t kThrownAbout = 4; ///< turns on both sides
constexpr double kOutlierPulse = 6.0;   ///< standard deviations
constexpr double kOutlierShare = 0.4;   ///< of its turn's squares, for the worst mark
constexpr double kKeepsOn = 0.2; ///< of it a turn before or after, the same way: no single stamp

/// Whether no turn reaches kOutlierTurn times the median: half of them are over that part of the
/// largest. Said without sorting, as nearly every piece has none.
bool none_stands_out(const std::vector<double>& squares) {
  const double part = *std::max_element(squares.begin(), squares.end()) / kOutlierTurn;
  const auto below =
      std::count_if(squares.begin(), squares.end(), [&](double square) { return square < part; });
  return 2 * static_cast<std::size_t>(below) <= squares.size();
}

} // namespace

BorderSums::BorderSums(std::size_t turns)
    : turns_(turns), count_(std::clamp<std::size_t>(turns / kBlockTurns, 1, kMostBlocks)) {
  blocks.reserve(count_);
}

void BorderSums::note(std::size_t turn, const Elimination& so_far) {
  if (turn + 1 != (blocks.size() + 1) * turns_ / count_)
    return;
  const BorderNormal now = so_far.border();
  blocks.push_back(blocks.empty() ? now : now - whole);
  whole = now;
}

DwellPass::DwellPass(const TurnBasis& basis, const TurnSlots& slots, Duration tick, TurnRange dwell)
    : basis_(&basis), slots_(&slots), tick_(tick), dwell_(dwell) {}

std::vector<double> DwellPass::beyond_rows() const {
  return means_beyond_rows(*basis_, late_sums_, laid_);
}

void DwellPass::run(const BorderSolution* held_to, bool look_for_bad) {
  const std::size_t turns = dwell_.to - dwell_.from;
  const std::size_t pieces = (turns + kPieceTurns - 1) / kPieceTurns;
  const bool keep = look_for_bad || !slots_->holes.empty();
  const auto begin = static_cast<double>(slots_->ticks[dwell_.from * basis_->marks]);
  const auto end = static_cast<double>(slots_->ticks[dwell_.to * basis_->marks]);
  unit_ = 2.0 * std::numbers::pi * static_cast<double>(turns) /
          std::max((end - begin) * tick_.s(), tick_.s());
  late_sums_.assign(basis_->marks, 0.0);
  laid_ = 0;
  met_ = 0;
  suspects_.clear();
  sums_ = BorderSums(turns);
  Elimination fit(*basis_, 0, keep ? kPieceTurns + kLookAhead : 0);
  for (std::size_t p = 0; p < pieces; ++p) {
    Piece& piece = pieces_[p % 2];
    lay(piece, {dwell_.from + p * turns / pieces, dwell_.from + (p + 1) * turns / pieces});
    const TurnRows& rows = piece.rows;
    for (std::size_t i = 0; i < rows.turns(); ++i) {
      if (keep && p > 0 && i == kLookAhead)
        hold_against_fit(pieces_[(p + 1) % 2], fit, held_to, look_for_bad);
      fit.add_turn(rows.turn(i), rows.speed[i] / unit_, rows.slope[i]);
      sums_.note(piece.turns.from - dwell_.from + i, fit);
    }
  }
  if (keep)
    hold_against_fit(pieces_[(pieces + 1) % 2], fit, held_to, look_for_bad);
}

std::vector<std::size_t> DwellPass::bad() const {
  std::vector<std::size_t> out;
  for (auto it = suspects_.begin(); it != suspects_.end(); ++it) {
    const auto worse = [&](const Suspect& other) {
      return other.square > it->square && other.turn + kThrownAbout >= it->turn &&
             it->turn + kThrownAbout >= other.turn;
    };
    const auto near = static_cast<std::ptrdiff_t>(kThrownAbout); // they are in order of turns
    const auto from = it - std::min(near, it - suspects_.begin());
    const auto to = it + std::min(near + 1, suspects_.end() - it);
    if (std::none_of(from, to, worse))
      out.push_back(it->turn * basis_->marks + it->mark);
  }
  return out;
}

/// Rows of a piece, with what earlier runs found for the marks that were filled in.
void DwellPass::lay(Piece& piece, TurnRange turns) {
  piece.turns = turns;
  std::swap(piece.rows.beyond_rows, late_sums_);
  lay_rows(piece.rows, *basis_, *slots_, tick_, turns, dwell_);
  std::swap(piece.rows.beyond_rows, late_sums_);
  laid_ = turns.to - dwell_.from;
  beyond_.clear();
  piece.filled = met_;
  for (const FilledMark& mark : piece.rows.filled) {
    if (met_ == filled_.size())
      filled_.push_back({turns.from - dwell_.from + mark.turn, mark.mark, mark.lateness});
    const double change = filled_[met_++].lateness - mark.lateness;
    for (std::size_t r = 0; r < basis_->rows; ++r)
      piece.rows.values[mark.turn * basis_->rows + r] += basis_->transform[mark.mark][r] * change;
  }
}

void DwellPass::hold_against_fit(const Piece& piece, Elimination& fit,
                                 const BorderSolution* held_to, bool look_for_bad) {
  if (look_for_bad || !piece.rows.filled.empty()) {
    const auto solution = held_to != nullptr ? *held_to : solve(fit.border());
    left_ = fit.residuals(piece.rows, unit_, solution);
    refill(piece);
    if (look_for_bad)
      note_bad(piece);
  }
  fit.forget(piece.rows.turns());
}

double DwellPass::fitted_lateness(const Piece& piece, std::size_t turn, std::size_t mark) {
  if (beyond_.empty())
    beyond_ = beyond_rows();
  double fitted = beyond_[mark];
  for (std::size_t r = 0; r < basis_->rows; ++r) {
    const std::size_t at = turn * basis_->rows + r;
    fitted += basis_->transform[mark][r] * (piece.rows.values[at] - left_[at]);
  }
  return fitted;
}

void DwellPass::refill(const Piece& piece) {
  for (std::size_t f = 0; f < piece.rows.filled.size(); ++f) {
    const FilledMark& mark = piece.rows.filled[f];
    filled_[piece.filled + f].lateness = fitted_lateness(piece, mark.turn, mark.mark);
  }
}

/// Turns are looked at whose mean square is far over the usual.
void DwellPass::note_bad(const Piece& piece) {
  const std::size_t turns = piece.rows.turns();
  std::vector<double> square(turns);
  for (std::size_t i = 0; i < turns; ++i)
    for (std::size_t r = 0; r < basis_->rows; ++r)
      square[i] += std::pow(left_[i * basis_->rows + r], 2);
  if (none_stands_out(square))
    return;
  std::vector<double> sorted(square);
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(turns / 2);
  std::nth_element(sorted.begin(), middle, sorted.end());
  const double usual = *middle;
  const double noise = std::sqrt(usual / static_cast<double>(basis_->rows));
  const auto late_by = [&](std::size_t turn, std::size_t mark) {
    return lateness_of(piece.rows, *basis_, *slots_, piece.turns.from, turn, mark) -
           fitted_lateness(piece, turn, mark);
  };
  // A whirl that settles or steps keeps a mark late for turns on end; one bad stamp throws the
  // turns beside it the other way, and two in a row are not three.
  const auto keeps_on = [&](std::size_t turn, std::size_t mark) {
    const double here = late_by(turn, mark);
    const auto so_far_off = [&](std::size_t other, double share) {
      return other < turns && late_by(other, mark) / here > share;
    };
    return (so_far_off(turn + 1, kKeepsOn) && so_far_off(turn + 2, 0.5 * kKeepsOn)) ||
           (turn >= 2 && so_far_off(turn - 1, kKeepsOn) && so_far_off(turn - 2, 0.5 * kKeepsOn));
  };
  for (std::size_t i = 0; i < turns; ++i) {
    if (square[i] < kOutlierTurn * usual)
      continue;
    std::size_t worst = 0;
    double size = 0.0;
    double whole = 0.0; // where all marks are late together the speed moved, and no stamp is bad
    for (std::size_t k = 0; k < basis_->marks; ++k) {
      const double late = std::abs(late_by(i, k));
      whole += late * late;
      if (late > size) {
        size = late;
        worst = k;
      }
    }
    if (size > kOutlierPulse * noise && size * size > kOutlierShare * whole && !keeps_on(i, worst))
      suspects_.push_back({piece.turns.from + i, worst, square[i]});
  }
}

} // namespace whirler::tach
