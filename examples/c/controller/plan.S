/* The blob that `bolting-host plan` wrote, as it is. */
    .syntax unified
    .section .rodata.plan, "a"
    .global plan, plan_end
plan:
    .incbin "strip.plan"
plan_end:
    .byte 0
