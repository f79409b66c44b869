/* SPDX-License-Identifier: Apache-2.0 */
/* What grows with the clinic, and what does not: the same figures with 1,000, 10,000 and 100,000 clients, or with as many as the
 * arguments say, smallest first: build/bench/growth 1000 1000000. Of each clinic 900 clients come due, 150 each minute; they are asked, and
 * then answer. The first of these groups warms up, the others are the five runs. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <unistd.h>

#include "adapters/serve/serve_memory.h"
#include "daemon/control/control.h"
#include "daemon/intake/take_in.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"
#include "tests/bench/own_programs.h"
#include "tests/bench/plans.h"
#include "tests/bench/sink.h"
#include "tests/support/folder.h"

enum {
    RUNS = 5,
    GROUPS = RUNS + 1,
    EACH = 150,
    WELCOMES = 1, /* the first client is made through the API */
    AT_ONCE = 64,
    SIZES_MAX = 6,
    LONG = 100000,  /* clients from which on what takes long is done once */
    AT_WORK_S = 10, /* how long osierd works before its memory is looked at */
    SPEED = 6       /* of the clock, so that the next group is soon due */
};

typedef enum {
    STORE_REMINDER,
    STORE_REPLY,
    PLANNING,
    MEMORY_IDLE,
    MEMORY_AT_WORK,
    START,
    START_CPU,
    DIGEST,
    DIGEST_CPU,
    CHECK,
    CHECK_CPU,
    EVENTS,
    ROWS
} RowId;

typedef struct {
    const char *name;
    int decimals;
    bool flat; /* must not grow */
    const char *limit;
} RowKind;

static const RowKind KINDS[ROWS] = {
    [STORE_REMINDER] = {"reminder asked and settled, store us", 0, true, "growth 1.3"},
    [STORE_REPLY] = {"reply stored, read, acted on, store us", 0, true, "growth 1.3"},
    [PLANNING] = {"session planned, us", 2, true, "2.5 us, growth 1.3"},
    [MEMORY_IDLE] = {"osierd resident once ready, MB", 1, false, "64 MB"},
    [MEMORY_AT_WORK] = {"osierd resident at most, at work, MB", 1, false, "64 MB"},
    [START] = {"osierd from start to ready, ms", 0, false, "150 ms"},
    [START_CPU] = {"  of which it computes", 0, false, ""},
    [DIGEST] = {"digest, asked for to page, s", 2, false, "2 s at 10,000"},
    [DIGEST_CPU] = {"  of which it computes", 2, false, ""},
    [CHECK] = {"osier check, s for a million events", 1, false, "10 s"},
    [CHECK_CPU] = {"  of which it computes", 1, true, ""},
    [EVENTS] = {"events on record", 0, false, ""},
};

typedef struct {
    int runs;
    double values[FIGURE_RUNS_MAX];
} Cell;

typedef struct {
    int clients;
    Cell cells[ROWS];
} Grown;

static void add(Grown *clinic, RowId row, double value)
{
    Cell *cell = &clinic->cells[row];

    g_assert(cell->runs < FIGURE_RUNS_MAX);
    cell->values[cell->runs++] = value;
}

/* --- a group of clients: asked, then answering --- */

typedef struct {
    Office *office;
    int next, end; /* numbers of clients who have not answered */
    int stored;
} Answers;

static void answer_next(Answers *answers);

static void stored(StoreStatus status, int fresh, void *context)
{
    Answers *answers = context;

    g_assert(status == STORE_OK && fresh == 1);
    answers->stored++;
    answer_next(answers);
}

static void answer_next(Answers *answers)
{
    if (answers->next == answers->end) return;
    int number = answers->next++;
    GPtrArray *items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    Incoming *incoming = g_new0(Incoming, 1);

    *incoming = (Incoming){.id = g_strdup_printf("in-%d", number),
                           .from = g_strdup_printf("+4477%08d", number),
                           .text = g_strdup("Did them, a 4, no pain"),
                           .at_ms = -1};
    g_ptr_array_add(items, incoming);
    take_in(daemon_desk(answers->office->daemon),
            &(Taking){.gateway = "texts", .channel = CHANNEL_SMS, .items = items}, stored, answers);
}

static double answer_all(Office *office, int group)
{
    Answers answers = {.office = office, .next = group * EACH, .end = (group + 1) * EACH};
    double cpu_us = office_store_cpu_us(office);
    const char *what;

    for (int i = 0; i < AT_ONCE; i++)
        answer_next(&answers);
    while (answers.stored < EACH || daemon_holds(office->daemon, &what) > 0)
        uv_run(&office->loop, UV_RUN_ONCE);
    return (office_store_cpu_us(office) - cpu_us) / EACH;
}

static double remind_all(Office *office, int group)
{
    double cpu_us = office_store_cpu_us(office);
    const char *what;

    office_wait_accepted(office, WELCOMES + (group + 1) * EACH);
    while (daemon_holds(office->daemon, &what) > 0)
        uv_run(&office->loop, UV_RUN_ONCE);
    return (office_store_cpu_us(office) - cpu_us) / EACH;
}

static int64_t accepted(const Office *office)
{
    return desk_tally(daemon_desk(office->daemon))->fates[FATE_ACCEPTED];
}

static void measure_messages(Office *office, Grown *clinic)
{
    for (int group = 0; group < GROUPS; group++) {
        if (accepted(office) > WELCOMES + group * EACH)
            g_error(
                "the machine is too busy: a group came due while the one before it was answering");
        double reminder = remind_all(office, group), reply = answer_all(office, group);
        if (group == 0) continue;
        add(clinic, STORE_REMINDER, reminder);
        add(clinic, STORE_REPLY, reply);
    }
}

/* --- the digest --- */

static double cpu_us_of(int whose)
{
    struct rusage used;

    getrusage(whose, &used);
    return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e6 +
           (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
}

static void answered(const ServeMemoryAnswer *answer, void *context)
{
    *(int *)context = answer->status;
}

static void measure_digest(Office *office, Grown *clinic)
{
    static const ServeLimits LIMITS = {
        .body_max = 65536, .connections_max = 50, .idle_timeout_s = 10};
    Serve *serve = serve_memory_new(&LIMITS, control_handle, office->daemon);

    for (int i = 0; i < (clinic->clients >= LONG ? 1 : RUNS); i++) {
        gint64 began_us = g_get_monotonic_time();
        double cpu_us = cpu_us_of(RUSAGE_SELF);
        int status = 0;
        serve_memory_request(serve, "GET", "/week?format=html", NULL, "", 0, answered, &status);
        while (status == 0)
            uv_run(&office->loop, UV_RUN_ONCE);
        if (status != 200) g_error("the digest was answered with %d", status);
        add(clinic, DIGEST, (double)(g_get_monotonic_time() - began_us) / G_USEC_PER_SEC);
        add(clinic, DIGEST_CPU, (cpu_us_of(RUSAGE_SELF) - cpu_us) / G_USEC_PER_SEC);
    }
    serve->close(serve);
}

/* --- planning --- */

static void measure_planning(Grown *clinic)
{
    Plans plans = {.zones = zones_new()};

    day_parse("2026-03-03", &plans.today);
    for (int i = -1; i < RUNS; i++) {
        double cpu_us = cpu_us_of(RUSAGE_SELF);
        plans_run(clinic->clients, &plans);
        if (i >= 0) add(clinic, PLANNING, (cpu_us_of(RUSAGE_SELF) - cpu_us) / clinic->clients);
    }
    zones_free(plans.zones);
}

/* --- the programs --- */

static void measure_start(const char *folder, Grown *clinic)
{
    for (int i = 0; i < RUNS; i++) {
        double ready_ms;
        pid_t daemon = own_daemon_start(folder, "2026-01-02T12:00:00Z", &ready_ms);
        add(clinic, START, ready_ms);
        add(clinic, START_CPU, own_cpu_ms(daemon));
        add(clinic, MEMORY_IDLE, own_memory_mb(daemon, "VmRSS:"));
        own_daemon_stop(daemon);
    }
}

/* At 18:00 all the others come due. */
static void measure_at_work(const char *folder, Grown *clinic)
{
    double ready_ms;
    pid_t daemon = own_daemon_start(folder, "2026-01-02T17:59:59Z", &ready_ms);

    sleep(AT_WORK_S);
    add(clinic, MEMORY_AT_WORK, own_memory_mb(daemon, "VmHWM:"));
    own_daemon_stop(daemon);
}

static void measure_check(const char *folder, Grown *clinic)
{
    for (int i = 0; i < (clinic->clients >= LONG ? 1 : RUNS); i++) {
        double took_s;
        gint64 events;
        double cpu_us = cpu_us_of(RUSAGE_CHILDREN);
        if (!own_check(folder, &took_s, &events)) exit(1);
        add(clinic, CHECK, took_s * 1e6 / (double)events);
        add(clinic, CHECK_CPU, (cpu_us_of(RUSAGE_CHILDREN) - cpu_us) / (double)events);
        if (i == 0) add(clinic, EVENTS, (double)events);
    }
}

static void measure(Grown *clinic, int port)
{
    Office *office = office_new(port, "2026-01-01T19:00:00Z"); /* nobody is due before tomorrow */

    gint64 began_us = g_get_monotonic_time();
    office_fill_spread(office, clinic->clients, (OfficeSpread){GROUPS, EACH});
    fprintf(stderr, "%d clients made in %.0f s\n", clinic->clients,
            (double)(g_get_monotonic_time() - began_us) / G_USEC_PER_SEC);
    office->speed = SPEED;
    office_reopen(office, "2026-01-02T08:29:50Z");
    daemon_start(office->daemon);
    measure_messages(office, clinic);
    measure_digest(office, clinic);
    measure_planning(clinic);
    char *folder = office_leave(office);
    measure_start(folder, clinic);
    measure_at_work(folder, clinic);
    measure_check(folder, clinic);
    folder_remove(folder);
}

/* --- the table --- */

static void print_cell(int decimals, const Cell *cell)
{
    double least = cell->values[0], most = cell->values[0];

    for (int i = 1; i < cell->runs; i++) {
        least = MIN(least, cell->values[i]);
        most = MAX(most, cell->values[i]);
    }
    double middle = figure_median(cell->values, cell->runs);
    g_autofree char *text = cell->runs > 1 ? g_strdup_printf("%.*f (%.*f-%.*f)", decimals, middle,
                                                             decimals, least, decimals, most)
                                           : g_strdup_printf("%.*f", decimals, middle);
    printf(" %20s", text);
}

static double middle_of(const Grown *clinic, RowId row)
{
    return figure_median(clinic->cells[row].values, clinic->cells[row].runs);
}

/* Of the medians, the greatest by that of the smallest clinic. */
static void print_growth(const Grown *clinics, int n, RowId row)
{
    double most = 0;

    for (int i = 0; i < n; i++)
        most = MAX(most, middle_of(&clinics[i], row));
    printf("  %6.2f", most / middle_of(&clinics[0], row));
}

static void print_table(const Grown *clinics, int n)
{
    printf("%-39s", "growth: clients");
    for (int i = 0; i < n; i++)
        printf(" %20d", clinics[i].clients);
    printf("  growth  limit\n");
    for (RowId row = 0; row < ROWS; row++) {
        printf("%-39s", KINDS[row].name);
        for (int i = 0; i < n; i++)
            print_cell(KINDS[row].decimals, &clinics[i].cells[row]);
        if (KINDS[row].flat)
            print_growth(clinics, n, row);
        else
            printf("  %6s", "");
        printf("  %s\n", KINDS[row].limit);
    }
}

int main(int argc, char **argv)
{
    static const int USUAL[] = {1000, 10000, 100000};
    int n = argc > 1 ? MIN(argc - 1, SIZES_MAX) : (int)G_N_ELEMENTS(USUAL);
    Grown clinics[SIZES_MAX] = {{0}};
    int port;

    signal(SIGPIPE, SIG_IGN);
    pid_t sink = sink_start(&port);
    for (int i = 0; i < n; i++) {
        clinics[i].clients = argc > 1 ? atoi(argv[i + 1]) : USUAL[i];
        g_assert(clinics[i].clients >= GROUPS * EACH);
        measure(&clinics[i], port);
    }
    sink_stop(sink);
    print_table(clinics, n);
    return 0;
}
