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

/// One pass outward a solve, one back: the blocks follow each other in a chain of dependent
/// multiplications, so whatever else is to be summed goes into the same pass and costs nothing.
template <std::size_t B, std::size_t M>
class BorderedBlocks {
 public:
  std::vector<CellBlocks<B, M>> cells;
  Block<M> corner{};            // Q without s
  std::array<bool, M> moving{}; // whether s stands in Q's diagonal: a border with a time derivative

  void factor(double s) {
    reduced_.resize(cells.size());
    Block<M> q = corner;
    for (std::size_t k = 0; k < M; ++k)
      q[k][k] += moving[k] ? s : 0.0;
    std::array<std::array<double, B>, M> column{};
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const CellBlocks<B, M>& cell = cells[i];
      Reduced& reduced = reduced_[i];
      Block<B> a;
      for (std::size_t r = 0; r < B; ++r)
        for (std::size_t c = 0; c < B; ++c)
          a[r][c] = (r == c ? s : 0.0) - cell.own[r][c];
      reduced.own = inverse_of<B>(a);
      reduced.inner = product(reduced.own, cell.inner);
      for (std::size_t k = 0; k < M; ++k) {
        column[k] = step(reduced, cell.column[k].data(), column[k]);
        reduced.column[k] = column[k];
        for (std::size_t l = 0; l < M; ++l)
          for (std::size_t r = 0; r < B; ++r)
            q[l][k] -= cell.row[l][r] * column[k][r];
      }
    }
    schur_ = inverse_of<M>(q);
  }

  /// x: n blocks of B, then M border values.
  void solve(std::span<double> x) const {
    const std::size_t n = cells.size();
    std::array<double, M> border{};
    for (std::size_t k = 0; k < M; ++k)
      border[k] = x[n * B + k];
    std::array<double, B> before{};
    for (std::size_t i = 0; i < n; ++i) {
      before = step(reduced_[i], &x[i * B], before);
      for (std::size_t r = 0; r < B; ++r) {
        x[i * B + r] = before[r];
        for (std::size_t k = 0; k < M; ++k)
          border[k] += cells[i].row[k][r] * before[r];
      }
    }
    std::array<double, M> value{};
    for (std::size_t k = 0; k < M; ++k) {
      for (std::size_t l = 0; l < M; ++l)
        value[k] += schur_[k][l] * border[l];
      x[n * B + k] = value[k];
    }
    for (std::size_t i = 0; i < n; ++i)
      for (std::size_t k = 0; k < M; ++k)
        for (std::size_t r = 0; r < B; ++r)
          x[i * B + r] += value[k] * reduced_[i].column[k][r];
  }

 private:
  struct Reduced {
    Block<B> own{};                                // (s - D)^-1
    Block<B> inner{};                              // (s - D)^-1 L
    std::array<std::array<double, B>, M> column{}; // the solved border columns
  };

  static Block<B> product(const Block<B>& a, const Block<B>& b) {
    Block<B> out{};
    for (std::size_t r = 0; r < B; ++r)
      for (std::size_t c = 0; c < B; ++c)
        for (std::size_t k = 0; k < B; ++k)
          out[r][c] += a[r][k] * b[k][c];
    return out;
  }

  /// x_i = (s - D_i)^-1 b_i + (s - D_i)^-1 L_i x_(i-1).
  static std::array<double, B> step(const Reduced& reduced, const double* b,
                                    const std::array<double, B>& before) {
    std::array<double, B> now{};
    for (std::size_t r = 0; r < B; ++r)
      for (std::size_t c = 0; c < B; ++c)
        now[r] += reduced.own[r][c] * b[c];
    for (std::size_t r = 0; r < B; ++r)
      for (std::size_t c = 0; c < B; ++c)
        now[r] += reduced.inner[r][c] * before[c];
    return now;
  }

  std::vector<Reduced> reduced_;
  Block<M> schur_{};
};

} // namespace whirler::film::thinning
