// The linear systems of the radial grid. Nothing flows inward, so a cell feels itself and its inner
// neighbour: the matrix is block lower-bidiagonal and one sweep outward solves it, without fill.
// What all cells share (the film's temperature, the speed of a puddle's front) stands as a few
// border rows and columns, taken out by a Schur complement.
//
//   | s - D_1                     -C_1 |
//   |  -L_2   s - D_2             -C_2 |      D, L: B x B blocks
//   |           ...      ...       ... |      C: B x M, R: M x B
//   |  -R_1    -R_2   ...        Q     |      Q: M x M
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace whirler::film::thinning {

template <std::size_t B>
using Block = std::array<std::array<double, B>, B>;

template <std::size_t B>
[[nodiscard]] inline Block<B> inverse_of(Block<B> a) {
  if constexpr (B == 1) {
    return {{{1.0 / a[0][0]}}};
  } else if constexpr (B == 2) {
    const double scale = 1.0 / (a[0][0] * a[1][1] - a[0][1] * a[1][0]);
    return {{{a[1][1] * scale, -a[0][1] * scale}, {-a[1][0] * scale, a[0][0] * scale}}};
  } else {
    Block<B> inv{};
    for (std::size_t i = 0; i < B; ++i)
      inv[i][i] = 1.0;
    for (std::size_t k = 0; k < B; ++k) { // no pivoting: the diagonal leads, as in the column
      const double scale = 1.0 / a[k][k];
      for (std::size_t j = 0; j < B; ++j) {
        a[k][j] *= scale;
        inv[k][j] *= scale;
      }
      for (std::size_t i = 0; i < B; ++i) {
        const double times = a[i][k];
        for (std::size_t j = 0; i != k && j < B; ++j) {
          a[i][j] -= times * a[k][j];
          inv[i][j] -= times * inv[k][j];
        }
      }
    }
    return inv;
  }
}

/// One cell's row of the matrix: D, L, and its border column and row.
template <std::size_t B, std::size_t M>
struct CellBlocks {
  Block<B> own{};                                // D
  Block<B> inner{};                              // L
  std::array<std::array<double, B>, M> column{}; // C
  std::array<std::array<double, B>, M> row{};    // R
};

/// M is at least 1; a border without use has zero column and row and 1 in Q.
template <std::size_t B, std::size_t M>
class BorderedBlocks {
 public:
  std::vector<CellBlocks<B, M>> cells;
  Block<M> corner{};            // Q without s
  std::array<bool, M> moving{}; // whether s stands in Q's diagonal: a border with a time derivative

  void factor(double s) {
    const std::size_t n = cells.size();
    reduced_.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      Block<B> a = cells[i].own;
      for (std::size_t r = 0; r < B; ++r)
        for (std::size_t c = 0; c < B; ++c)
          a[r][c] = (r == c ? s : 0.0) - a[r][c];
      reduced_[i].own = inverse_of<B>(a);
      multiply(reduced_[i].own, cells[i].inner, reduced_[i].inner);
    }
    factor_border(s);
  }

  /// x: n blocks of B, then M border values.
  void solve(std::span<double> x) const {
    const std::size_t n = cells.size();
    sweep(x);
    std::array<double, M> border{};
    for (std::size_t k = 0; k < M; ++k)
      border[k] = x[n * B + k] + along(cells, k, x);
    for (std::size_t k = 0; k < M; ++k) {
      double value = 0.0;
      for (std::size_t l = 0; l < M; ++l)
        value += schur_[k][l] * border[l];
      x[n * B + k] = value;
      for (std::size_t i = 0; i < n; ++i)
        for (std::size_t r = 0; r < B; ++r)
          x[i * B + r] += value * reduced_[i].column[k][r];
    }
  }

 private:
  struct Reduced {
    Block<B> own{};                                // (s - D)^-1
    Block<B> inner{};                              // (s - D)^-1 L
    std::array<std::array<double, B>, M> column{}; // the solved border columns
  };

  static void multiply(const Block<B>& a, const Block<B>& b, Block<B>& out) {
    for (std::size_t r = 0; r < B; ++r)
      for (std::size_t c = 0; c < B; ++c) {
        out[r][c] = 0.0;
        for (std::size_t k = 0; k < B; ++k)
          out[r][c] += a[r][k] * b[k][c];
      }
  }

  /// Outward: x_i = (s - D_i)^-1 b_i + (s - D_i)^-1 L_i x_(i-1).
  void sweep(std::span<double> x) const {
    std::array<double, B> before{};
    for (std::size_t i = 0; i < cells.size(); ++i) {
      std::array<double, B> now{};
      for (std::size_t r = 0; r < B; ++r)
        for (std::size_t c = 0; c < B; ++c)
          now[r] += reduced_[i].own[r][c] * x[i * B + c] + reduced_[i].inner[r][c] * before[c];
      for (std::size_t r = 0; r < B; ++r)
        x[i * B + r] = now[r];
      before = now;
    }
  }

  static double along(const std::vector<CellBlocks<B, M>>& cells, std::size_t k,
                      std::span<const double> x) {
    double sum = 0.0;
    for (std::size_t i = 0; i < cells.size(); ++i)
      for (std::size_t r = 0; r < B; ++r)
        sum += cells[i].row[k][r] * x[i * B + r];
    return sum;
  }

  void factor_border(double s) {
    const std::size_t n = cells.size();
    scratch_.resize(n * B);
    Block<M> q = corner;
    for (std::size_t k = 0; k < M; ++k) {
      for (std::size_t i = 0; i < n; ++i)
        for (std::size_t r = 0; r < B; ++r)
          scratch_[i * B + r] = cells[i].column[k][r];
      sweep(scratch_);
      for (std::size_t i = 0; i < n; ++i)
        for (std::size_t r = 0; r < B; ++r)
          reduced_[i].column[k][r] = scratch_[i * B + r];
      for (std::size_t l = 0; l < M; ++l)
        q[l][k] -= along(cells, l, scratch_);
      if (moving[k])
        q[k][k] += s;
    }
    schur_ = inverse_of<M>(q);
  }

  std::vector<Reduced> reduced_;
  std::vector<double> scratch_;
  Block<M> schur_{};
};

} // namespace whirler::film::thinning
