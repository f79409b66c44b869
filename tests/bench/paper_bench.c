/* SPDX-License-Identifier: Apache-2.0 */
/* What people look at: a client's course over two years, by the thread's own time; the digest of 2,000 clients, from the
 * request to the page with its pictures; and how long the loop was held up at most while these were made. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "adapters/chart/chart.h"
#include "adapters/serve/serve_memory.h"
#include "adapters/store/find_people.h"
#include "core/paper/picture.h"
#include "daemon/control/control.h"
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

/* --- the loop, while the digest is made and pictures are asked for ------------------------------- */

/* One turn of the loop; *longest_ms becomes the most that a turn has taken of the loop's own thread: whatever else the loop had
 * to do waited for that. */
static void turn(uv_loop_t *loop, double *longest_ms)
{
    double began = now_ms(CLOCK_THREAD_CPUTIME_ID);

    uv_run(loop, UV_RUN_ONCE);
    *longest_ms = MAX(*longest_ms, now_ms(CLOCK_THREAD_CPUTIME_ID) - began);
}

typedef struct {
    int status;
    size_t bytes;
} Answer;

static void answered(const ServeMemoryAnswer *answer, void *context)
{
    *(Answer *)context = (Answer){answer->status, g_bytes_get_size(answer->body)};
}

static void tell_week(Office *office, Serve *serve)
{
    double ms[5], blocked[5];
    Answer answer;

    for (int i = 0; i < 5; i++) {
        double began = now_ms(CLOCK_MONOTONIC);
        blocked[i] = 0;
        answer.status = 0;
        serve_memory_request(serve, "GET", "/week?format=html", NULL, "", 0, answered, &answer);
        while (answer.status == 0)
            turn(&office->loop, &blocked[i]);
        if (answer.status != 200) exit(1);
        ms[i] = now_ms(CLOCK_MONOTONIC) - began;
    }
    print("digest, 2,000 clients", ms, 5, answer.bytes, 2000);
    print("loop, while it is made", blocked, 5, answer.bytes, 10);
}

static bool first_job(Job *job, void *context)
{
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    *(char **)context = g_strdup(clients->pdata[0]);
    return true;
}

/* Forty pictures at once, as many as a busy morning asks for. */
static void tell_pictures(Office *office, Serve *serve)
{
    enum { PICTURES = 40 };
    Answer answers[PICTURES] = {{0}};
    double blocked = 0;
    g_autofree char *client = NULL;

    office_job(office, first_job, &client);
    g_autofree char *path = g_strdup_printf("/clients/%s/course.svg?days=730", client);
    for (int i = 0; i < PICTURES; i++)
        serve_memory_request(serve, "GET", path, NULL, "", 0, answered, &answers[i]);
    for (int i = 0; i < PICTURES; i++) {
        while (answers[i].status == 0)
            turn(&office->loop, &blocked);
        if (answers[i].status != 200) exit(1);
    }
    print("loop, while 40 pictures are drawn", &blocked, 1, answers[0].bytes, 10);
}

int main(void)
{
    static const ServeLimits LIMITS = {
        .body_max = 65536, .connections_max = 50, .idle_timeout_s = 10};
    Office *office = office_new(0, "2026-01-02T09:00:00Z");
    const Pack *pack = settings_pack(office->settings, "en");

    draw(pack, "course of two years, SVG", CHART_SVG, 760);
    draw(pack, "course of two years, PDF", CHART_PDF, 760);
    office_fill(office, CLIENTS);
    office_reopen(office, "2026-01-08T08:31:00Z");
    daemon_start(office->daemon);
    office_wait_quiet(office);
    Serve *serve = serve_memory_new(&LIMITS, control_handle, office->daemon);
    tell_week(office, serve);
    tell_pictures(office, serve);
    serve->close(serve);
    office_free(office);
    return 0;
}
