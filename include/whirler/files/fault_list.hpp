// The mistakes of one file while they are being found.
#pragma once

#include "whirler/files/file_fault.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace whirler::files {

class FaultList {
 public:
  static constexpr std::size_t kMost = 100;

  /// Both must outlive the list.
  FaultList(std::string_view text, const std::string& file) : text_(text), file_(file) {}

  /// `at` is a byte offset into the text. `fault.file`, `.line` and `.column` are filled in later.
  void add(std::size_t at, FileFault fault);
  /// Changes with every mistake that is added, past the hundredth too.
  using Mark = std::size_t;
  [[nodiscard]] Mark mark() const { return added_; }
  [[nodiscard]] bool full() const { return added_ >= kMost; }
  [[nodiscard]] bool empty() const { return found_.empty(); }
  [[nodiscard]] std::string_view text() const { return text_; }
  /// In the order of the text, with lines and columns.
  [[nodiscard]] std::vector<FileFault> take() &&;

 private:
  struct Found {
    std::size_t at;
    FileFault fault;
  };
  std::string_view text_;
  const std::string& file_;
  std::vector<Found> found_;
  std::size_t added_ = 0;
};

/// Place of the first byte that is not part of a well-formed UTF-8 character; npos where all are.
[[nodiscard]] std::size_t first_not_utf8(std::string_view text);

/// A piece of a file as a fault shows it: 60 characters at most, control characters and broken
/// UTF-8 as \xNN, so that a file cannot write to the terminal of the person who checks it.
[[nodiscard]] std::string shown(std::string_view piece);

} // namespace whirler::files
