/* Speed from the marks, for the loop alone: the host gets every pulse and no average.
 *
 * The speed is that of the last marks that span some 20 ms, a whole turn at most: where a turn is
 * shorter than that, uneven marks cancel out, and where it is longer, one interval is already good
 * to a few parts in a thousand. Between marks the speed is known to be below one interval in the
 * time that has passed, and is given so: a rotor that stops is seen before its next mark.
 *
 * An interval that no rotor could make after the one before it (a lost mark, a spark) does not
 * count as a speed: the last one is kept. STRIKES of them without as many good ones between say
 * that the tach is not to be believed.
 */
#ifndef WHIRLER_SPEED_H
#define WHIRLER_SPEED_H

#include <stdint.h>

/* Intervals that must agree before there is a speed at all. */
#define SPEED_AGREEING 3
#define SPEED_HISTORY 32

struct speed {
  uint16_t marks_per_turn;
  uint32_t ticks[SPEED_HISTORY]; /* of the last marks, a ring */
  uint8_t newest;
  uint8_t held;         /* marks in the ring without a gap */
  uint32_t interval;    /* ticks of the last interval that was believed; 0 none */
  uint32_t believed_at; /* tick of its end */
  uint8_t agreeing;     /* intervals believed in a row, up to SPEED_AGREEING */
  uint8_t strikes;      /* a good interval takes 1 off, a bad one puts 3 on */
  float slope;          /* rpm/s by which the rotor is being driven: set by who does it */
  float rpm;            /* of the last marks */
  uint32_t span;        /* ticks that it is the mean of */
  uint8_t fresh;        /* rpm must be worked out anew */
};

void speed_begin(struct speed* speed, uint16_t marks_per_turn);

/* Everything is forgotten; the next three intervals that agree make a speed. */
void speed_restart(struct speed* speed);

/* Marks went by that were not seen: the next one ends no interval. The speed stands. */
void speed_gap(struct speed* speed);

/* A mark passed. */
void speed_mark(struct speed* speed, uint32_t tick);

/* 1 when SPEED_AGREEING intervals agreed and nothing was restarted since. */
uint8_t speed_known(const struct speed* speed);

/* 1 when the tach is not to be believed: three intervals in a short while that no rotor can have
 * made; the third need not have ended to be known as too long. */
uint8_t speed_implausible(const struct speed* speed, uint32_t now);

/* rpm now; 0 when not known. */
float speed_rpm(struct speed* speed, uint32_t now);

/* 1 while the next mark is so late that the figure above has begun to fall. */
uint8_t speed_waits(const struct speed* speed, uint32_t now);

/* How old that figure is on average, in seconds: the middle of what it is the mean of, and the wait
 * for the next mark. */
float speed_age_s(const struct speed* speed);

/* Ticks since the last mark; only after one has passed. */
uint32_t speed_silence(const struct speed* speed, uint32_t now);

/* rpm that one interval of so many ticks would be. */
float speed_of_interval(const struct speed* speed, uint32_t ticks);

#endif
