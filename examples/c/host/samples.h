/* Reads samples as text, one a line, as `bolting-host simulate` writes them. */
#ifndef BOLTING_EXAMPLE_SAMPLES_H
#define BOLTING_EXAMPLE_SAMPLES_H

#include <stdio.h>

#include "bolting_monitor.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Reads a whole file; NULL if that fails. The caller frees it. */
uint8_t *read_file(const char *path, size_t *length);

/*
 * Reads the header line. It must be time_s,q1..qN,dq1..dqN,tau1..tauN; returns N, or -1.
 */
int read_header(FILE *from);

/* Reads the next sample: 1, 0 at the end, -1 for a line that is none. */
int read_sample(FILE *from, int joints, bm_sample *sample);

#ifdef __cplusplus
}
#endif

#endif
