// Quantities that are made by unit and read by unit, so that no bare double crosses a public
// function of this library.
//
//   const Speed n = rpm(3000);
//   const double w = n.rad_per_s();            // 314.159...
//   const Speed twice = 2.0 * n;               // scaling and adding like to like is allowed
//   n + seconds(3);                            // does not compile
//
// Rejected: a dimensional-analysis template (one Quantity<M, L, T> for all). Torque and energy
// would be one type there, as would speed in rad/s and frequency, and a compile error would name
// exponents instead of the word that the reader knows. The few products that the code needs are
// written out where they are used, from named readings.
#pragma once

#include <cmath>
#include <compare>

namespace whirler {

/// Base of every quantity: a double in SI units with the arithmetic that is meaningful for all.
template <class Self>
class Quantity {
 public:
  constexpr Quantity() = default;
  /// The value in SI units, for code that is generic over the kind of quantity.
  [[nodiscard]] constexpr double si() const { return si_; }
  [[nodiscard]] static constexpr Self from_si(double value) {
    Self made;
    made.si_ = value;
    return made;
  }
  [[nodiscard]] bool is_finite() const { return std::isfinite(si_); }

  friend constexpr auto operator<=>(const Self& a, const Self& b) { return a.si_ <=> b.si_; }
  friend constexpr bool operator==(const Self& a, const Self& b) { return a.si_ == b.si_; }
  friend constexpr Self operator+(Self a, Self b) { return from_si(a.si_ + b.si_); }
  friend constexpr Self operator-(Self a, Self b) { return from_si(a.si_ - b.si_); }
  friend constexpr Self operator-(Self a) { return from_si(-a.si_); }
  friend constexpr Self operator*(double k, Self a) { return from_si(k * a.si_); }
  friend constexpr Self operator*(Self a, double k) { return from_si(k * a.si_); }
  friend constexpr Self operator/(Self a, double k) { return from_si(a.si_ / k); }
  friend constexpr double operator/(Self a, Self b) { return a.si_ / b.si_; }
  constexpr Self& operator+=(Self b) {
    si_ += b.si_;
    return static_cast<Self&>(*this);
  }
  constexpr Self& operator-=(Self b) {
    si_ -= b.si_;
    return static_cast<Self&>(*this);
  }

 private:
  double si_ = 0.0;
};

} // namespace whirler
