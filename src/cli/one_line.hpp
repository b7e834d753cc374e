// JSON as the notebook's notes hold it.
#pragma once

#include "context.hpp"

namespace whirler::cli {

/// On one line; a byte that is no UTF-8 becomes U+FFFD.
[[nodiscard]] inline std::string one_line(const Json& document) {
  return document.dump(-1, ' ', false, Json::error_handler_t::replace);
}

} // namespace whirler::cli
