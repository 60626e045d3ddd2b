#include "samples.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LINE_ROOM 1024
#define MOST_BYTES 65536L

uint8_t *read_file(const char *path, size_t *length)
{
    FILE *file = fopen(path, "rb");
    uint8_t *bytes = file == NULL ? NULL : malloc(MOST_BYTES);

    if (bytes != NULL) {
        *length = fread(bytes, 1, MOST_BYTES, file);
        if (ferror(file) || !feof(file)) {
            free(bytes);
            bytes = NULL;
        }
    }
    if (file != NULL) {
        fclose(file);
    }
    return bytes;
}

int read_header(FILE *from)
{
    static const char *const groups[] = {"q", "dq", "tau"};
    char line[LINE_ROOM], expected[LINE_ROOM];

    if (fgets(line, sizeof line, from) == NULL) {
        return -1;
    }
    line[strcspn(line, "\r\n")] = '\0';
    for (int joints = 1; joints <= BM_MAX_JOINTS; ++joints) {
        int at = snprintf(expected, sizeof expected, "time_s");
        for (unsigned g = 0; g < 3; ++g) {
            for (int i = 1; i <= joints; ++i) {
                at += snprintf(expected + at, sizeof expected - (size_t)at, ",%s%d", groups[g], i);
            }
        }
        if (strcmp(line, expected) == 0) {
            return joints;
        }
    }
    return -1;
}

static int number(char **at, double *value)
{
    char *end;

    *value = strtod(*at, &end);
    if (end == *at || (*end != ',' && *end != '\n' && *end != '\r' && *end != '\0')) {
        return 0;
    }
    *at = *end == ',' ? end + 1 : end;
    return 1;
}

static int group(char **at, int joints, float *out)
{
    double value;

    for (int i = 0; i < joints; ++i) {
        if (!number(at, &value)) {
            return 0;
        }
        out[i] = (float)value;
    }
    return 1;
}

int read_sample(FILE *from, int joints, bm_sample *sample)
{
    char line[LINE_ROOM];
    char *at = line;
    double time_s;

    if (fgets(line, sizeof line, from) == NULL) {
        return ferror(from) ? -1 : 0;
    }
    if (!number(&at, &time_s) || !(time_s >= 0.0 && time_s < 1e10)
        || !group(&at, joints, sample->position_rad) || !group(&at, joints, sample->velocity_rad_s)
        || !group(&at, joints, sample->torque_nm)) {
        return -1;
    }
    sample->time_us = (uint64_t)llround(time_s * 1e6);
    return 1;
}
