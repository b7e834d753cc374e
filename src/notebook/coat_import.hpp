// A coat that comes from another notebook.
//
// The same coat may come twice: once as it was when its program died or was still writing it, and
// once whole; or again with notes that were made since. What comes later and has all that is here
// is the same coat, known better. So it completes the one that is here, under its number and with
// the notes that it got here; it never takes anything away.
#pragma once

#include "database.hpp"
#include "whirler/notebook/coat.hpp"

namespace whirler::notebook {

/// Within the caller's transaction; gives the coat's number here, which is new or that of the coat
/// that was completed. Faults (input): it is here already, as whole as it comes; it is being
/// written here; what is here of it is not the beginning of what comes.
[[nodiscard]] Result<std::int64_t> insert_or_complete(Database& database, const Coat& coat);

} // namespace whirler::notebook
