/*
 * Start, UART and stack of a Cortex-M4F. Addresses and bits: Arm application note AN386, the CMSDK
 * technical reference manual (APB UART), the Armv7-M architecture reference manual (CPACR, VTOR), and
 * Arm's semihosting specification (SYS_EXIT_EXTENDED), as far as QEMU implements them.
 */
#include "board.h"

#include "report.h"

#define UART0 0x40004000UL
#define UART_DATA (*(volatile uint32_t *)(UART0 + 0x0))
#define UART_STATE (*(volatile uint32_t *)(UART0 + 0x4))
#define UART_CTRL (*(volatile uint32_t *)(UART0 + 0x8))
#define UART_DIVIDER (*(volatile uint32_t *)(UART0 + 0x10))
#define UART_TX_FULL 1U
#define UART_TX_ON 1U

#define CPACR (*(volatile uint32_t *)0xE000ED88UL)
#define CPACR_FPU (0xFUL << 20)

#define SEMIHOSTING_EXIT 0x20
#define SEMIHOSTING_STOPPED 0x20026U

#define PAINT 0xC5C5C5C5U
/* Left alone below the painting function itself. */
#define MARGIN 64U

extern uint32_t stack_end[], stack_top[];
extern uint32_t data_start[], data_end[], data_source[], bss_start[], bss_end[];

int main(void);

static uint32_t *painted_to;

static uint32_t *stack_pointer(void)
{
    uint32_t *at;
    __asm volatile("mov %0, sp" : "=r"(at));
    return at;
}

void board_paint_stack(void)
{
    painted_to = stack_pointer() - MARGIN / sizeof(uint32_t);
    for (volatile uint32_t *at = stack_end; at < painted_to; ++at) {
        *at = PAINT;
    }
}

size_t board_stack_used(void)
{
    const volatile uint32_t *at = stack_end;
    while (at < painted_to && *at == PAINT) {
        ++at;
    }
    return (size_t)((const volatile char *)painted_to - (const volatile char *)at) + MARGIN;
}

void put_char(char c)
{
    while ((UART_STATE & UART_TX_FULL) != 0) {
    }
    UART_DATA = (uint32_t)c;
}

_Noreturn void board_exit(uint32_t status)
{
    uint32_t block[2] = {SEMIHOSTING_STOPPED, status};
    register uint32_t operation __asm("r0") = SEMIHOSTING_EXIT;
    register uint32_t *argument __asm("r1") = block;

    for (;;) {
        __asm volatile("bkpt 0xab" : "+r"(operation) : "r"(argument) : "memory");
    }
}

static void fault(void)
{
    board_exit(99);
}

/* Not inlined into the start below: there the floating-point unit is still off. */
__attribute__((noinline)) static void run(void)
{
    board_exit((uint32_t)main());
}

static void reset(void)
{
    CPACR |= CPACR_FPU;
    __asm volatile("dsb\n\tisb" ::: "memory");
    uint32_t *from = data_source;
    for (volatile uint32_t *to = data_start; to < data_end; ++to) {
        *to = *from++;
    }
    for (volatile uint32_t *to = bss_start; to < bss_end; ++to) {
        *to = 0;
    }
    UART_DIVIDER = 16;
    UART_CTRL = UART_TX_ON;
    run();
}

/* Where the stack begins, reset, and the faults: NMI, hard, memory, bus, usage. No interrupt is enabled. */
typedef struct {
    uint32_t *stack;
    void (*handlers[15])(void);
} vector_table;

__attribute__((section(".vectors"), used)) static const vector_table vectors = {
    stack_top,
    {reset, fault, fault, fault, fault, fault},
};
