/* SPDX-License-Identifier: Apache-2.0 */
/* What people look at: a client's course over two years, by the thread's own time, and the digest of 2,000 clients, from the
 * store to the text and the page with its pictures. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "adapters/chart/chart.h"
#include "core/clinic/fault.h"
#include "daemon/jobs/digest.h"
#include "tests/bench/office.h"

enum { CLIENTS = 2000, DAYS = 730, RUNS = 21 };

static int by_size(const void *a, const void *b)
{
    double left = *(const double *)a, right = *(const double *)b;

    return (left > right) - (left < right);
}

static double now_ms(clockid_t clock)
{
    struct timespec now;

    clock_gettime(clock, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static void print(const char *name, double *ms, int runs, size_t bytes, double limit)
{
    qsort(ms, (size_t)runs, sizeof ms[0], by_size);
    printf("%-36s %8.1f ms (limit %.0f ms; slowest of %d: %.1f ms), %zu kB\n", name, ms[runs / 2],
           limit, runs, ms[runs - 1], bytes / 1000);
}

static Picture *two_years(const Pack *pack)
{
    static CourseSession sessions[DAYS];
    static CourseReading readings[52];

    for (int i = 0; i < DAYS; i++)
        sessions[i] = (CourseSession){.day = 20000 + i,
                                      .state = i % 9 == 4    ? "silent"
                                               : i % 13 == 5 ? "not"
                                                             : "done",
                                      .intensity = i % 9 == 4 ? -1 : 3 + i % 4,
                                      .pain = i % 9 == 4 ? -1 : i % 3};
    for (int i = 0; i < 52; i++)
        readings[i] = (CourseReading){.day = i * 14, .degrees = 58 + i * 0.5, .right = i % 2 == 1};
    return picture_of_course(pack, &(CourseAsk){.from = 20000,
                                                .to = 20000 + DAYS - 1,
                                                .sessions = sessions,
                                                .n_sessions = DAYS,
                                                .readings = readings,
                                                .n_readings = 52,
                                                .goal = {90, 90}});
}

/* The first drawing reads the machine's fonts and is left out: a daemon does so once. */
static void draw(const Pack *pack, const char *name, ChartFormat format, double width)
{
    double ms[RUNS];
    size_t bytes = 0;

    for (int i = -1; i < RUNS; i++) {
        double began = now_ms(CLOCK_THREAD_CPUTIME_ID);
        g_autoptr(Picture) picture = two_years(pack);
        g_autoptr(GBytes) drawn = chart_picture(picture, format, width);
        if (i >= 0) ms[i] = now_ms(CLOCK_THREAD_CPUTIME_ID) - began;
        bytes = g_bytes_get_size(drawn);
    }
    print(name, ms, RUNS, bytes, 20);
}

typedef struct {
    const Pack *pack;
    size_t bytes;
} Week;

static bool week_job(Job *job, void *context)
{
    Week *week = context;
    g_autoptr(Digest) digest =
        digest_gather(job, zone_local(job_clinic_zone(job), job->now_ms).day);

    digest_draw(job, digest, week->pack);
    g_autofree char *text = digest_text(digest, week->pack);
    g_autofree char *html = digest_html(digest, week->pack);
    week->bytes = strlen(text) + strlen(html);
    if ((int)digest->clients->len != CLIENTS) exit(1);
    return true;
}

static void tell_week(Office *office, const Pack *pack)
{
    double ms[5];
    Week week = {.pack = pack};

    for (int i = 0; i < 5; i++) {
        double began = now_ms(CLOCK_MONOTONIC);
        desk_submit(daemon_desk(office->daemon), week_job, NULL, &week);
        office_wait_quiet(office);
        ms[i] = now_ms(CLOCK_MONOTONIC) - began;
    }
    print("digest, 2,000 clients", ms, 5, week.bytes, 2000);
}

int main(void)
{
    Office *office = office_new(0, "2026-01-02T09:00:00Z");
    const Pack *pack = settings_pack(office->settings, "en");

    draw(pack, "course of two years, SVG", CHART_SVG, 760);
    draw(pack, "course of two years, PDF", CHART_PDF, 760);
    office_fill(office, CLIENTS);
    office_reopen(office, "2026-01-08T08:31:00Z");
    daemon_start(office->daemon);
    office_wait_quiet(office);
    tell_week(office, settings_pack(office->settings, "en"));
    office_free(office);
    return 0;
}
