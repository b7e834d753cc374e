#include "serial.h"

#include "board.h"
#include "frame.h"
#include "guard.h"

#include <avr/interrupt.h>

/* Powers of two. 128 bytes in are 2.6 ms of a line that never pauses: two beats of the main loop.
 */
#define IN_ROOM 128u
#define OUT_ROOM 256u

static uint8_t in[IN_ROOM];
static volatile uint8_t in_head, in_tail;
static uint8_t out[OUT_ROOM];
static volatile uint8_t out_head, out_tail;
static volatile uint8_t stop_seen;
static uint8_t last_byte;

void serial_start(void) {
  UCSR0A = _BV(U2X0);
  UBRR0 = F_CPU / 8 / BAUD - 1; /* exact at 16 MHz */
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

ISR(USART_RX_vect) {
  uint8_t byte = UDR0;
  uint8_t twice = byte == last_byte;
  last_byte = byte;
  if (byte == STOP_BYTE_CUT) {
    if (twice)
      guard_cut(LATCH_OPERATOR_CUT);
    return;
  }
  if (byte == STOP_BYTE_STOP) {
    if (twice)
      stop_seen = 1;
    return;
  }
  uint8_t next = (uint8_t)(in_head + 1) % IN_ROOM;
  if (next == in_tail)
    return; /* the frame it belonged to will fail its check */
  in[in_head] = byte;
  in_head = next;
}

ISR(USART_UDRE_vect) {
  if (out_head == out_tail) {
    UCSR0B &= (uint8_t)~_BV(UDRIE0);
    return;
  }
  UDR0 = out[out_tail];
  out_tail = (uint8_t)(out_tail + 1) % OUT_ROOM;
}

int16_t serial_take(void) {
  if (in_head == in_tail)
    return -1;
  uint8_t byte = in[in_tail];
  in_tail = (uint8_t)(in_tail + 1) % IN_ROOM;
  return byte;
}

uint8_t serial_take_stop(void) {
  if (!stop_seen)
    return 0;
  stop_seen = 0;
  return 1;
}

uint8_t serial_room(void) { return (uint8_t)(out_tail - out_head - 1) % OUT_ROOM; }

void serial_send(uint8_t byte) {
  out[out_head] = byte;
  out_head = (uint8_t)(out_head + 1) % OUT_ROOM;
  UCSR0B |= _BV(UDRIE0);
}
