// A value or the fault that stands in its place. Every fault says what happened, where, and what
// to do next; the kind decides the program's exit status and nothing else does.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace whirler {

/// What a fault is about. The command line maps each to its exit status.
enum class FaultKind {
  program,      ///< this program is wrong: a check of its own failed
  command_line, ///< the words on the command line do not make a command
  input,        ///< a file, a value in it, an impossible target, a question without an answer
  link,         ///< the drive cannot be reached, or the line to it was lost
  ended_early,  ///< a run that started did not reach its end
};

struct Fault {
  FaultKind kind = FaultKind::program;
  std::string what;  ///< what happened, a sentence without full stop
  std::string where; ///< the file and place, the port, or the step; may be empty
  std::string next;  ///< what the reader can do now

  friend bool operator==(const Fault&, const Fault&) = default;
};

/// One line for a terminal: "where: what; next".
[[nodiscard]] std::string to_text(const Fault& fault);

[[nodiscard]] inline Fault input_fault(std::string what, std::string where, std::string next) {
  return {FaultKind::input, std::move(what), std::move(where), std::move(next)};
}

/// A T, or the Fault that explains why there is none. `value()` and `fault()` demand that the
/// caller has looked first; a wrong call throws std::bad_variant_access, a fault of the program.
template <class T>
class [[nodiscard]] Result {
 public:
  Result(T value) : held_(std::in_place_index<0>, std::move(value)) {}
  Result(Fault fault) : held_(std::in_place_index<1>, std::move(fault)) {}

  [[nodiscard]] bool ok() const { return held_.index() == 0; }
  explicit operator bool() const { return ok(); }
  [[nodiscard]] const T& value() const& { return std::get<0>(held_); }
  [[nodiscard]] T& value() & { return std::get<0>(held_); }
  [[nodiscard]] T&& value() && { return std::get<0>(std::move(held_)); }
  [[nodiscard]] const T& operator*() const& { return value(); }
  [[nodiscard]] T& operator*() & { return value(); }
  [[nodiscard]] const T* operator->() const { return &value(); }
  [[nodiscard]] T* operator->() { return &value(); }
  [[nodiscard]] const Fault& fault() const { return std::get<1>(held_); }

 private:
  std::variant<T, Fault> held_;
};

/// For actions that give nothing back but may fail.
struct Done {};
using Outcome = Result<Done>;

} // namespace whirler
