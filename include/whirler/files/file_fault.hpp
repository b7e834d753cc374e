// What is wrong in a file, and where. A reader gives the value or all the mistakes at once: a
// person at the bench corrects a file once, not once a mistake.
//
// Lines and columns count from 1. A column counts characters (Unicode code points), as editors show
// it, not bytes; a tab is one character; a byte order mark at the start is passed over and counts
// for nothing. A missing key is reported at the object that lacks it, with the pointer that the key
// would have.
#pragma once

#include "whirler/units/result.hpp"

#include <cstddef>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace whirler::files {

struct FileFault {
  std::string file{};
  std::size_t line = 0; ///< 0: the file as a whole (it cannot be read)
  std::size_t column = 0;
  std::string pointer{}; ///< JSON pointer (RFC 6901); empty for the whole document and for CSV
  std::string found{};   ///< what stands there, shortened; control characters made visible
  std::string allowed{};
  std::string next{}; ///< what the reader can do now; may be empty

  friend bool operator==(const FileFault&, const FileFault&) = default;
};

/// One line: "file:line:column: pointer: found …; allowed: …; next".
[[nodiscard]] std::string to_text(const FileFault& fault);

/// All of them as the one fault (kind `input`) of a command that cannot go on. `faults` not empty.
[[nodiscard]] Fault to_fault(const std::vector<FileFault>& faults);

/// A value read from a file, or everything that is wrong with the file, in the order of the text.
/// After 100 mistakes the reader gives up looking.
template <class T>
class [[nodiscard]] Read {
 public:
  Read(T value) : held_(std::in_place_index<0>, std::move(value)) {}
  Read(std::vector<FileFault> faults) : held_(std::in_place_index<1>, std::move(faults)) {}

  [[nodiscard]] bool ok() const { return held_.index() == 0; }
  explicit operator bool() const { return ok(); }
  [[nodiscard]] const T& value() const& { return std::get<0>(held_); }
  [[nodiscard]] T& value() & { return std::get<0>(held_); }
  [[nodiscard]] T&& value() && { return std::get<0>(std::move(held_)); }
  [[nodiscard]] const T& operator*() const& { return value(); }
  [[nodiscard]] T& operator*() & { return value(); }
  [[nodiscard]] const T* operator->() const { return &value(); }
  [[nodiscard]] T* operator->() { return &value(); }
  [[nodiscard]] const std::vector<FileFault>& faults() const { return std::get<1>(held_); }

 private:
  std::variant<T, std::vector<FileFault>> held_;
};

} // namespace whirler::files
