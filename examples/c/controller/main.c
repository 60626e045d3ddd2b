/*
 * A bare-metal controller: a plan and a table of samples in flash, the monitor in static memory.
 * Prints each finding and the verdict; status 0 if the run went through, whatever the verdict.
 */
#include "board.h"
#include "report.h"

extern const uint8_t plan[], plan_end[];

/* The table that samples.awk makes of a recording. */
typedef struct {
    uint32_t time_us;
    float position_rad[7], velocity_rad_s[7], torque_nm[7];
} row;

static const row rows[] = {
#include "samples.inc"
};

_Alignas(BM_MONITOR_ALIGN) static uint8_t memory[BM_MONITOR_ROOM];

static int fail(bm_status status, const char *why)
{
    report_error(status, why);
    return 1;
}

static void fill(bm_sample *sample, const row *from)
{
    sample->time_us = from->time_us;
    for (unsigned i = 0; i < 7; ++i) {
        sample->position_rad[i] = from->position_rad[i];
        sample->velocity_rad_s[i] = from->velocity_rad_s[i];
        sample->torque_nm[i] = from->torque_nm[i];
    }
}

static void put_note(const char *name, size_t bytes)
{
    put_text("note ");
    put_text(name);
    put_char('=');
    put_number(bytes);
    put_char('\n');
}

int main(void)
{
    static char why[160];
    const bm_setup setup = {
        .struct_size = sizeof setup,
        .abi_version = BM_ABI_VERSION,
        .plan = plan,
        .plan_length = (size_t)(plan_end - plan),
        .why = why,
        .why_room = sizeof why,
    };
    bm_monitor *monitor = NULL;

    put_note("monitor_bytes", bm_monitor_size(7));
    board_paint_stack();
    bm_status status = bm_monitor_create(memory, sizeof memory, &setup, &monitor);
    if (status != BM_STATUS_OK) {
        return fail(status, why);
    }
    put_note("create_stack_bytes", board_stack_used());

    bm_sample sample;
    bm_update update = {.struct_size = sizeof update};
    curve_digest curve = curve_digest_start();
    bm_sample_init(&sample, 7);
    sample.flags |= BM_SAMPLE_VELOCITY;
    board_paint_stack();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; ++i) {
        fill(&sample, &rows[i]);
        status = bm_monitor_update(monitor, &sample, &update);
        if (status != BM_STATUS_OK) {
            return fail(status, "");
        }
        /* On a real machine: withdraw the permit of the tool here if !update.permitted. */
        curve_digest_add(&curve, &update);
        if (update.has_finding) {
            report_finding(&update.finding);
        }
    }
    put_note("update_stack_bytes", board_stack_used());

    bm_summary summary = {.struct_size = sizeof summary};
    board_paint_stack();
    status = bm_monitor_summary(monitor, &summary);
    if (status != BM_STATUS_OK) {
        return fail(status, "");
    }
    put_note("summary_stack_bytes", board_stack_used());
    report_curve(&curve);
    report_summary(&summary);
    status = bm_monitor_destroy(monitor);
    return status == BM_STATUS_OK ? 0 : fail(status, "");
}
