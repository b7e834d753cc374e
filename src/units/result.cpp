#include "whirler/units/result.hpp"

namespace whirler {

std::string to_text(const Fault& fault) {
  std::string text;
  if (!fault.where.empty())
    text += fault.where + ": ";
  text += fault.what;
  if (!fault.next.empty())
    text += "; " + fault.next;
  return text;
}

} // namespace whirler
