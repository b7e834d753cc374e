// The guided job at the bench: a board from the bare plate to the lamp, both sides, every pour a
// run of its own in the notebook.
//
//   plan -> weigh -> [ mount, pour, lid -> run -> result ]* a side -> weigh -> lamp -> teach
//                      ^---- pour again / wash off and start over ----'
//
// Between two runs nothing moves and everything that is known is already in the notebook, so that a
// person may walk away, or the program die, at any question.
#pragma once

#include "coat_words.hpp"

namespace whirler::cli {

/// Gives the exit status.
[[nodiscard]] int coat_board(const CoatWords& words, const Context& context);

} // namespace whirler::cli
