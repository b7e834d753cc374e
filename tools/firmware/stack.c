#include "stack.h"

#define MARK_SIZE 8
#define MARK 0xA5

extern uint8_t __heap_start; /* the linker's: first byte after the variables */

static volatile uint8_t* mark(void) { return &__heap_start; }

void stack_mark(void) {
  for (uint8_t i = 0; i < MARK_SIZE; i++)
    mark()[i] = MARK;
}

uint8_t stack_whole(void) {
  for (uint8_t i = 0; i < MARK_SIZE; i++)
    if (mark()[i] != MARK)
      return 0;
  return 1;
}
