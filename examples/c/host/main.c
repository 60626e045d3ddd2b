/*
 * Samples from standard input through the monitor, on a host.
 * Usage: monitor PLAN < SAMPLES.csv; status 0 if the run went through, whatever the verdict.
 */
#include <stdio.h>
#include <stdlib.h>

#include "report.h"
#include "samples.h"

void put_char(char c)
{
    putchar(c);
}

static int run(bm_monitor *monitor, int joints)
{
    bm_sample sample;
    bm_update update = {.struct_size = sizeof update};
    bm_summary summary = {.struct_size = sizeof summary};
    curve_digest curve = curve_digest_start();
    bm_status status = BM_STATUS_OK;
    int got;

    bm_sample_init(&sample, (uint32_t)joints);
    sample.flags |= BM_SAMPLE_VELOCITY;
    while ((got = read_sample(stdin, joints, &sample)) == 1) {
        status = bm_monitor_update(monitor, &sample, &update);
        if (status != BM_STATUS_OK) {
            report_error(status, "");
            return 1;
        }
        curve_digest_add(&curve, &update);
        if (update.has_finding) {
            report_finding(&update.finding);
        }
    }
    if (got < 0) {
        fprintf(stderr, "standard input: a line that is no sample of %d joints\n", joints);
        return 1;
    }
    status = bm_monitor_summary(monitor, &summary);
    if (status != BM_STATUS_OK) {
        report_error(status, "");
        return 1;
    }
    report_curve(&curve);
    report_summary(&summary);
    return 0;
}

int main(int argc, char **argv)
{
    char why[160];
    bm_setup setup = {
        .struct_size = sizeof setup,
        .abi_version = BM_ABI_VERSION,
        .why = why,
        .why_room = sizeof why,
    };
    bm_monitor *monitor = NULL;
    int ended = 1;

    if (argc != 2) {
        fprintf(stderr, "usage: %s PLAN < SAMPLES.csv\n", argv[0]);
        return 2;
    }
    uint8_t *plan = read_file(argv[1], &setup.plan_length);
    if (plan == NULL) {
        fprintf(stderr, "%s: cannot be read, or is no plan\n", argv[1]);
        return 2;
    }
    setup.plan = plan;
    int joints = read_header(stdin);
    if (joints < 0) {
        fprintf(stderr, "standard input: give the columns time_s,q1..qN,dq1..dqN,tau1..tauN\n");
        free(plan);
        return 2;
    }
    void *memory = aligned_alloc(bm_monitor_align(), BM_MONITOR_ROOM);
    if (memory != NULL) {
        bm_status status = bm_monitor_create(memory, BM_MONITOR_ROOM, &setup, &monitor);
        if (status == BM_STATUS_OK) {
            ended = run(monitor, joints);
            bm_monitor_destroy(monitor);
        } else {
            report_error(status, why);
        }
    }
    free(memory);
    free(plan);
    return ended;
}
