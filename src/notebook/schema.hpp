// The notebook's tables, and how an older notebook is brought forward.
#pragma once

#include "database.hpp"

namespace whirler::notebook {

/// Makes the tables of a new notebook, or brings an older one forward, in one transaction. Faults
/// (input): not a notebook, or of a newer program.
[[nodiscard]] Outcome prepare_tables(Database& database);

} // namespace whirler::notebook
