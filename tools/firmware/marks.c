#include "marks.h"

/* A dirty mark or a spark spoils a turn; it does not do so twice running. */
#define WRONG_TURNS 2

void marks_begin(struct marks* marks, uint16_t per_turn, uint8_t has_index) {
  marks->per_turn = per_turn;
  marks->has_index = has_index;
  marks->next = MARK_UNKNOWN;
  marks_judge_anew(marks);
}

void marks_judge_anew(struct marks* marks) {
  marks->since = 0;
  marks->from_index = 0;
  marks->wrong = 0;
  marks->right_once = 0;
}

static void end_turn(struct marks* marks) {
  if (marks->from_index) {
    if (marks->since == marks->per_turn) {
      marks->wrong = 0;
      marks->right_once = 1;
    } else if (marks->wrong < 255) {
      marks->wrong++;
    }
  }
  marks->since = 0;
  marks->from_index = 1;
}

uint16_t marks_pass(struct marks* marks, uint8_t is_index, uint8_t missed) {
  if (missed) { /* lost here, not by the tach: the count begins anew at the next index */
    marks->since = 0;
    marks->from_index = 0;
    marks->next = MARK_UNKNOWN;
  }
  uint16_t mark = marks->next;
  if (is_index) {
    end_turn(marks);
    mark = 0;
  }
  if (marks->since <= 2 * marks->per_turn)
    marks->since++;
  if (mark != MARK_UNKNOWN)
    marks->next = mark + 1 == marks->per_turn ? 0 : mark + 1;
  return mark;
}

uint8_t marks_miscount(const struct marks* marks) {
  if (!marks->has_index)
    return 0;
  return marks->wrong >= (marks->right_once ? WRONG_TURNS : 1) ||
         marks->since > 2 * marks->per_turn;
}
