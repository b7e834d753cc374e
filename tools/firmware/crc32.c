#include "crc32.h"

#ifdef __AVR__
#include <avr/pgmspace.h>
#else /* the native tests */
#define PROGMEM
#define pgm_read_dword(address) (*(address))
#endif

/* Half a byte at a time: 64 bytes of table where a byte at a time would need 1024. Entry n is what
 * n becomes in four steps of the polynomial 0xEDB88320. */
static const uint32_t kSteps[16] PROGMEM = {0x00000000ul, 0x1DB71064ul, 0x3B6E20C8ul, 0x26D930ACul,
                                            0x76DC4190ul, 0x6B6B51F4ul, 0x4DB26158ul, 0x5005713Cul,
                                            0xEDB88320ul, 0xF00F9344ul, 0xD6D6A3E8ul, 0xCB61B38Cul,
                                            0x9B64C2B0ul, 0x86D3D2D4ul, 0xA00AE278ul, 0xBDBDF21Cul};

static uint32_t half(uint32_t state) {
  return (state >> 4) ^ pgm_read_dword(&kSteps[(uint8_t)state & 0x0Fu]);
}

uint32_t crc32_add(uint32_t state, uint8_t byte) { return half(half(state ^ byte)); }
