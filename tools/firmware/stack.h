/* The stack grows down towards the variables. A few bytes between them are written at the start and
 * must stay as they are: when they do not, nothing in memory can be believed any longer.
 */
#ifndef WHIRLER_STACK_H
#define WHIRLER_STACK_H

#include <stdint.h>

void stack_mark(void);

/* 1 while the marked bytes are whole. */
uint8_t stack_whole(void);

#endif
