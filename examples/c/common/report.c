#include "report.h"

/* Part of a name=value pair: three decimals for people, then the bits for machines. */
static void put_figure(const char *name, float figure)
{
    union {
        float figure;
        uint32_t bits;
    } as = {figure};
    float thousandths = figure * 1000.0F;

    put_char(' ');
    put_text(name);
    put_char('=');
    if (figure != figure) {
        /* Not a number: it could not be told, as the torque of a pose that hides it. */
        put_text("not-told");
    } else if (thousandths > -2e9F && thousandths < 2e9F) {
        bool negative = thousandths < 0.0F;
        uint32_t rounded = (uint32_t)((negative ? -thousandths : thousandths) + 0.5F);
        if (negative) {
            put_char('-');
        }
        put_number(rounded / 1000);
        put_char('.');
        put_char((char)('0' + rounded / 100 % 10));
        put_char((char)('0' + rounded / 10 % 10));
        put_char((char)('0' + rounded % 10));
    } else {
        put_text("beyond");
    }
    put_char(':');
    for (int shift = 28; shift >= 0; shift -= 4) {
        put_char("0123456789abcdef"[as.bits >> shift & 15]);
    }
}

static void put_pair(const char *name, uint64_t number)
{
    put_char(' ');
    put_text(name);
    put_char('=');
    put_number(number);
}

void put_text(const char *text)
{
    while (*text != '\0') {
        put_char(*text++);
    }
}

void put_number(uint64_t number)
{
    char digits[20];
    int count = 0;

    do {
        digits[count++] = (char)('0' + number % 10);
        number /= 10;
    } while (number > 0);
    while (count > 0) {
        put_char(digits[--count]);
    }
}

/* FNV-1a, 32 bits, over the bytes of a word, the lowest first. */
static uint32_t fold(uint32_t digest, float figure)
{
    union {
        float figure;
        uint32_t bits;
    } as = {figure};

    for (int shift = 0; shift < 32; shift += 8) {
        digest = (digest ^ (as.bits >> shift & 255)) * 16777619U;
    }
    return digest;
}

curve_digest curve_digest_start(void)
{
    curve_digest digest = {0, 2166136261U};
    return digest;
}

void curve_digest_add(curve_digest *digest, const bm_update *update)
{
    if (update->curve_point) {
        digest->points += 1;
        digest->digest = fold(digest->digest, update->angle_rad);
        digest->digest = fold(digest->digest, update->torque_nm);
        digest->digest = fold(digest->digest, update->torque_u_nm);
    }
}

void report_finding(const bm_finding *finding)
{
    char name[BM_NAME_ROOM];

    bm_finding_name(finding->kind, name, sizeof name);
    put_text("finding kind=");
    put_text(name);
    put_pair("stops", finding->stops);
    put_pair("time_us", finding->time_us);
    put_figure("angle_rad", finding->angle_rad);
    put_figure("torque_nm", finding->torque_nm);
    put_figure("torque_u_nm", finding->torque_u_nm);
    put_figure("slope_nm_per_rad", finding->slope_nm_per_rad);
    put_figure("value", finding->value);
    put_figure("limit", finding->limit);
    put_char('\n');
}

void report_curve(const curve_digest *digest)
{
    put_text("curve");
    put_pair("points", digest->points);
    put_pair("digest", digest->digest);
    put_char('\n');
}

void report_summary(const bm_summary *summary)
{
    char name[BM_NAME_ROOM];

    bm_verdict_name(summary->verdict, name, sizeof name);
    put_text("summary verdict=");
    put_text(name);
    put_text(" reasons=");
    for (unsigned i = 0; i < summary->reason_count; ++i) {
        bm_reason_name(summary->reasons[i], name, sizeof name);
        put_text(i > 0 ? "," : "");
        put_text(name);
    }
    put_figure("final_torque_nm", summary->final_torque_nm);
    put_figure("final_torque_u_nm", summary->final_torque_u_nm);
    put_figure("final_angle_rad", summary->final_angle_rad);
    put_figure("final_angle_u_rad", summary->final_angle_u_rad);
    if (summary->has_snug) {
        put_figure("snug_angle_rad", summary->snug_angle_rad);
        put_figure("snug_torque_nm", summary->snug_torque_nm);
    }
    put_pair("samples", summary->samples);
    put_pair("gaps", summary->gaps);
    put_pair("unusable", summary->unusable_samples);
    put_char('\n');
}

void report_error(bm_status status, const char *why)
{
    put_text("error: ");
    put_text(bm_error_text(status));
    if (*why != '\0') {
        put_text(": ");
        put_text(why);
    }
    put_char('\n');
}
