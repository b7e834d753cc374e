/* Which mark passed, by the index; and whether the marks of a turn count right.
 */
#ifndef WHIRLER_MARKS_H
#define WHIRLER_MARKS_H

#include <stdint.h>

#define MARK_UNKNOWN 0xFFFFu

struct marks {
  uint16_t per_turn;
  uint16_t next;      /* number that the next mark will have, if none is missed */
  uint16_t since;     /* marks since the last index, it included, or since judging began */
  uint8_t has_index;  /* this driver can tell the index at all */
  uint8_t from_index; /* `since` began at an index: a whole turn */
  uint8_t wrong;      /* turns in a row that did not count right */
  uint8_t right_once; /* a turn has counted right */
};

void marks_begin(struct marks* marks, uint16_t per_turn, uint8_t has_index);

/* Forgets what was counted, not which mark comes next: at a start, for before it a hand may have
 * turned the spindle to and fro. */
void marks_judge_anew(struct marks* marks);

/* A mark passed; `missed` pulses before it were not kept. Returns its number, or MARK_UNKNOWN. */
uint16_t marks_pass(struct marks* marks, uint8_t is_index, uint8_t missed);

/* 1 when the marks do not count as configured: the first whole turn, or after one that was right
 * two in a row; or two turns' worth of marks came without the index. */
uint8_t marks_miscount(const struct marks* marks);

#endif
