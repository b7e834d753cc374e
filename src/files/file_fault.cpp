#include "whirler/files/file_fault.hpp"

namespace whirler::files {
namespace {

std::string place_text(const FileFault& fault) {
  if (fault.line == 0)
    return fault.file;
  return fault.file + ":" + std::to_string(fault.line) + ":" + std::to_string(fault.column);
}

std::string what_text(const FileFault& fault) {
  std::string text = fault.pointer.empty() ? "" : fault.pointer + ": ";
  text += "found " + fault.found;
  if (!fault.allowed.empty())
    text += "; allowed: " + fault.allowed;
  return text;
}

} // namespace

std::string to_text(const FileFault& fault) {
  std::string text = place_text(fault) + ": " + what_text(fault);
  if (!fault.next.empty())
    text += "; " + fault.next;
  return text;
}

Fault to_fault(const std::vector<FileFault>& faults) {
  const FileFault& first = faults.front();
  std::string what = what_text(first);
  if (faults.size() > 1)
    what += " (and " + std::to_string(faults.size() - 1) + " more)";
  return input_fault(what, place_text(first), first.next.empty() ? "correct the file" : first.next);
}

} // namespace whirler::files
