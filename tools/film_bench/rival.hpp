// CVODE on the same film: same closures, same cells, analytic band Jacobian. Several set-ups, of
// which the benchmark takes the best at each accuracy.
#pragma once

#include "whirler/film/closures.hpp"
#include "whirler/film/thinning_pieces.hpp"

#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace bench {

using Closures = whirler::film::thinning::DryingClosures<1>;
using Pieces = std::vector<whirler::film::thinning::Piece>;

/// What CVODE steps in, and what it does at a kink of the profile.
struct SetUp {
  enum class Unknowns { plain, smooth } unknowns; ///< (h_s, h_solvent), or (h_s^-2, w)
  enum class Kinks { restart, stop, ignore } kinks;
  double floor_m; ///< absolute tolerance of a thickness, over the relative one
  [[nodiscard]] std::string name() const;
};
[[nodiscard]] std::vector<SetUp> set_ups(bool puddle);

/// The film's solids thickness in each cell at the end [m]; isothermal. Allocated once, run often.
class Rival {
 public:
  Rival(const Closures& closures, std::size_t cells, const SetUp& setup);
  ~Rival();
  Rival(const Rival&) = delete;
  Rival& operator=(const Rival&) = delete;

  /// Empty where CVODE gave up.
  [[nodiscard]] std::vector<double> run(const Pieces& pieces, std::span<const double> wet_m,
                                        double tolerance);

 private:
  struct Parts;
  std::unique_ptr<Parts> parts_;
};

} // namespace bench
