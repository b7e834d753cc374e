// A stored coat as a page. Everything on it is worked out anew from what the notebook keeps (files
// as they were, samples, pulses), so the same coat gives the same page whatever has become of the
// files, and no clock is read.
#pragma once

#include "whirler/notebook/coat.hpp"
#include "whirler/report/page.hpp"

namespace whirler::cli {

[[nodiscard]] report::Page coat_page(const notebook::Coat& coat);

} // namespace whirler::cli
