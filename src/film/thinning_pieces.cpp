#include "whirler/film/thinning_pieces.hpp"

#include "whirler/units/text.hpp"

#include <algorithm>
#include <cmath>

namespace whirler::film::thinning {
namespace {

Outcome check_knots(const SpeedCurve& curve) {
  if (curve.size() < 2)
    return input_fault("the speed curve has fewer than two points", "",
                       "give the whole curve, from the pour to the end");
  for (std::size_t i = 0; i < curve.size(); ++i) {
    const std::string where = "point " + std::to_string(i + 1) + " of the speed curve";
    if (!curve[i].at.is_finite() || !curve[i].speed.is_finite())
      return input_fault("a time or speed is not a number", where, "give finite values");
    if (i > 0 && curve[i].at < curve[i - 1].at)
      return input_fault("time runs backwards to " + number_text(curve[i].at.s()) + " s", where,
                         "put the points in rising order of time");
  }
  if (curve.back().at > curve.front().at)
    return Done{};
  return input_fault("the speed curve takes no time", "", "give a profile with a dwell");
}

void append(std::vector<Piece>& pieces, double t0, double t1, double w0, double w1) {
  if (t1 > t0)
    pieces.push_back({t0, t1, w0, (w1 - w0) / (t1 - t0)});
}

} // namespace

Result<std::vector<Piece>> pieces_of(const SpeedCurve& curve) {
  if (auto checked = check_knots(curve); !checked)
    return checked.fault();
  std::vector<Piece> pieces;
  pieces.reserve(curve.size());
  for (std::size_t i = 1; i < curve.size(); ++i) {
    const double t0 = curve[i - 1].at.s();
    const double t1 = curve[i].at.s();
    const double w0 = curve[i - 1].speed.rad_per_s();
    const double w1 = curve[i].speed.rad_per_s();
    if (w0 * w1 < 0.0) {
      const double crossing = t0 + (t1 - t0) * w0 / (w0 - w1);
      append(pieces, t0, crossing, std::abs(w0), 0.0);
      append(pieces, crossing, t1, 0.0, std::abs(w1));
    } else {
      append(pieces, t0, t1, std::abs(w0), std::abs(w1));
    }
  }
  return pieces;
}

std::vector<Piece> pieces_until(std::span<const Piece> pieces, double end_s) {
  std::vector<Piece> cut;
  for (const Piece& piece : pieces) {
    if (piece.start_s >= end_s)
      break;
    cut.push_back(piece);
    cut.back().end_s = std::min(piece.end_s, end_s);
  }
  return cut;
}

std::vector<Piece> pieces_from(std::span<const Piece> pieces, double start_s) {
  std::vector<Piece> rest;
  for (Piece piece : pieces) {
    if (piece.end_s <= start_s)
      continue;
    if (piece.start_s < start_s) {
      piece.omega_start = piece.omega(start_s);
      piece.start_s = start_s;
    }
    rest.push_back(piece);
  }
  return rest;
}

double top_omega(std::span<const Piece> pieces) {
  double top = 0.0;
  for (const Piece& piece : pieces)
    top = std::max({top, piece.omega_start, piece.omega_end()});
  return top;
}

double last_time_near_top(std::span<const Piece> pieces, double share) {
  const double wanted = share * top_omega(pieces);
  for (std::size_t i = pieces.size(); i-- > 0;) {
    const Piece& piece = pieces[i];
    if (piece.omega_end() >= wanted)
      return piece.end_s;
    if (piece.omega_start >= wanted)
      return piece.start_s + (wanted - piece.omega_start) / piece.slope;
  }
  return pieces.empty() ? 0.0 : pieces.front().start_s;
}

double omega_at(std::span<const Piece> pieces, double t_s) {
  if (pieces.empty())
    return 0.0;
  const auto after = std::upper_bound(pieces.begin(), pieces.end(), t_s,
                                      [](double t, const Piece& p) { return t < p.start_s; });
  const Piece& piece = after == pieces.begin() ? *after : *(after - 1);
  return piece.omega(std::clamp(t_s, piece.start_s, piece.end_s));
}

} // namespace whirler::film::thinning
