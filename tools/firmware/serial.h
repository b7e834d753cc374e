/* The serial line: bytes in, bytes out, and the two stop sequences taken out of the stream before
 * anything else looks at it.
 *
 * The stop values are judged in the receive interrupt itself. Whatever the main loop is doing, a
 * cut acts within the interrupt's own time after its second byte has come in, and it never waits
 * behind data.
 */
#ifndef WHIRLER_SERIAL_H
#define WHIRLER_SERIAL_H

#include <stdint.h>

void serial_start(void);

/* The oldest byte received and not taken, or -1. Stop values never come out here. */
int16_t serial_take(void);

/* 1 once after a stop (not a cut: that has acted by itself) was received. */
uint8_t serial_take_stop(void);

/* Bytes that can be sent now without waiting. */
uint8_t serial_room(void);

/* Sends a byte for which there is room; call only after serial_room. */
void serial_send(uint8_t byte);

#endif
