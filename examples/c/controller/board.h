/* The board mps2-an386 as QEMU emulates it: UART 0 for text, semihosting to end the emulation. */
#ifndef BOLTING_EXAMPLE_BOARD_H
#define BOLTING_EXAMPLE_BOARD_H

#include <stddef.h>
#include <stdint.h>

/* Ends the emulation with a status for the shell. */
_Noreturn void board_exit(uint32_t status);
/* Fills the free stack with a pattern, ... */
void board_paint_stack(void);
/* ... and says how many bytes below the caller were used since. */
size_t board_stack_used(void);

#endif
