/* What the examples print of a run, one line each: the same on the controller and on the host. */
#ifndef BOLTING_EXAMPLE_REPORT_H
#define BOLTING_EXAMPLE_REPORT_H

#include "bolting_monitor.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Where characters go; the program's own. */
void put_char(char c);

void put_text(const char *text);
void put_number(uint64_t number);

/* Folds the points of the curve into one word, so that two machines can compare all of them. */
typedef struct {
    uint32_t points;
    uint32_t digest;
} curve_digest;

curve_digest curve_digest_start(void);
void curve_digest_add(curve_digest *digest, const bm_update *update);

void report_finding(const bm_finding *finding);
void report_curve(const curve_digest *digest);
void report_summary(const bm_summary *summary);
void report_error(bm_status status, const char *why);

#ifdef __cplusplus
}
#endif

#endif
