/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic as FHIR R4, of clients with a year of daily sessions, each asked, answered, read and reported: 200 of them, or as
 * many as the first argument says (the limit is 60 s for 1,000, on one core). Beside it the bare reading of the same rows. Memory
 * is looked at half-way and at the end: it must not grow. Making the year is timed apart. */
#include <glib/gstdio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/store/find_export.h"
#include "adapters/store/find_people.h"
#include "core/ledger/id.h"
#include "daemon/cli/records_fhir.h"
#include "tests/bench/figure.h"
#include "tests/bench/office.h"
#include "tests/support/folder.h"

enum { DAYS = 365, PAGE = 5 };
#define LIMIT_S_A_CLIENT 0.06
#define FROM "2025-03-02"

typedef struct {
    GPtrArray *clients; /* of id */
    guint at;
    Day from;
    char *out;
    int64_t resources;
    guint rows; /* read bare */
    double seconds;
} Bench;

static bool note_clients(Job *job, void *context)
{
    Bench *bench = context;

    bench->clients = find_clients(job->tx);
    return true;
}

/* --- a year ------------------------------------------------------------------------------------ */

static void ask(Job *job, const char *client, const char *session, const char *message,
                const char *date, int64_t at)
{
    g_autofree char *local = g_strconcat(date, "T08:30", NULL);

    tx_append(job->tx, "session.asked", client, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s, s:s, s:[{s:s, s:I}], s:s, s:i, s:s, s:I, s:s}", "at",
                        (json_int_t)at, "date", date, "local", local, "message", message,
                        "programme", "calf-and-hamstring", "reasons", "rule", "session time",
                        "value", (json_int_t)at, "session", session, "slot", 1, "stage",
                        "calf-with-strap", "utc", (json_int_t)at, "zone", "Europe/London"));
    tx_append(job->tx, "message.settled", client, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s, s:I, s:s, s:s, s:s, s:s, s:f, s:i, s:s, s:s, s:s}",
                        "at", (json_int_t)at, "channel", "sms", "client", client, "fate",
                        "delivered", "fate_at", (json_int_t)at + 4000, "gateway", "texts",
                        "gateway_id", message, "kind", "reminder", "message", message, "price",
                        0.04, "segments", 1, "session", session, "text",
                        "Your Clinic: time for your stretches. When done, reply D, how strong the "
                        "stretch was 0-10, and P with any pain 0-10.",
                        "to", "+447700900111"));
}

static void answer(Job *job, const char *client, const char *session, const char *date, int64_t at)
{
    g_autofree char *purpose = g_strconcat("answer/", session, NULL);
    g_autofree char *reply = id_message(purpose);

    tx_append(job->tx, "reply.received", reply, "client", NULL,
              json_pack("{s:I, s:I, s:s, s:s, s:s, s:s, s:s, s:s}", "arrived", (json_int_t)at, "at",
                        (json_int_t)at, "channel", "sms", "fingerprint", reply, "from",
                        "+447700900111", "gateway", "texts", "gateway_id", reply, "text",
                        "done them, a 4, no pain"));
    tx_append(job->tx, "reply.read", reply, "osier", NULL,
              json_pack("{s:s, s:b, s:{s:s, s:i, s:i, s:s}, s:s, s:s}", "client", client, "glance",
                        false, "reading", "done", "yes", "intensity", 4, "pain", 0, "language",
                        "en", "session", session, "state", "read"));
    tx_append(job->tx, "report.made", client, "client", NULL,
              json_pack("{s:I, s:s, s:s, s:s, s:i, s:i, s:s, s:s, s:i}", "at", (json_int_t)at, "by",
                        "client", "date", date, "done", "yes", "intensity", 4, "pain", 0, "reply",
                        reply, "session", session, "slot", 1));
}

static void live_a_year(Job *job, const Bench *bench, const char *client)
{
    for (int i = 0; i < DAYS; i++) {
        g_autofree char *date = day_format(bench->from + i);
        g_autofree char *purpose = g_strdup_printf("reminder/%s/%s", client, date);
        g_autofree char *session = id_session(client, date, 1);
        g_autofree char *message = id_message(purpose);
        int64_t at = (int64_t)(bench->from + i) * DAY_MS + 8 * HOUR_MS + 30 * 60000;

        ask(job, client, session, message, date, at);
        if (i % 9 != 0) answer(job, client, session, date, at + HOUR_MS);
    }
}

static bool year_job(Job *job, void *context)
{
    Bench *bench = context;

    for (guint end = MIN(bench->at + PAGE, bench->clients->len); bench->at < end; bench->at++)
        live_a_year(job, bench, bench->clients->pdata[bench->at]);
    return true;
}

/* --- out --------------------------------------------------------------------------------------- */

static bool export_job(Job *job, void *context)
{
    Bench *bench = context;
    gint64 begun_us = g_get_monotonic_time();
    g_autofree char *problem = records_fhir(job->tx, NULL, bench->out, &bench->resources);

    bench->seconds = (double)(g_get_monotonic_time() - begun_us) / 1e6;
    if (problem != NULL) fprintf(stderr, "%s\n", problem);
    return problem == NULL;
}

static bool read_job(Job *job, void *context)
{
    static const TableId TABLES[] = {TABLE_REPORT, TABLE_MESSAGE, TABLE_REPLY, TABLE_ALERT,
                                     TABLE_MEASURE};
    Bench *bench = context;
    gint64 begun_us = g_get_monotonic_time();

    for (guint i = 0; i < bench->clients->len; i++)
        for (size_t k = 0; k < G_N_ELEMENTS(TABLES); k++) {
            g_autoptr(GPtrArray) rows = find_all_of(job->tx, TABLES[k], bench->clients->pdata[i]);
            bench->rows += rows->len;
        }
    bench->seconds = (double)(g_get_monotonic_time() - begun_us) / 1e6;
    return true;
}

static double memory_mb(const char *what)
{
    g_autofree char *status = NULL;
    const char *line;

    g_assert(g_file_get_contents("/proc/self/status", &status, NULL, NULL));
    line = strstr(status, what);
    return line != NULL ? atof(line + strlen(what)) / 1024 : -1;
}

int main(int argc, char **argv)
{
    int clients = argc > 1 ? MAX(atoi(argv[1]), PAGE) : 200;
    Office *office = office_new(0, "2026-03-02T06:00:00Z");
    Bench bench = {.out = folder_new()};
    gint64 begun_us = g_get_monotonic_time();

    day_parse(FROM, &bench.from);
    office_fill_alike(office, clients);
    office_job(office, note_clients, &bench);
    while (bench.at < bench.clients->len)
        office_job(office, year_job, &bench);
    printf("%-36s %8.2f s, apart from what follows\n", "a year of each made",
           (double)(g_get_monotonic_time() - begun_us) / 1e6);
    double before = memory_mb("VmHWM:");
    office_job(office, read_job, &bench);
    double bare_s = bench.seconds;
    office_job(office, export_job, &bench);
    double limit_s = LIMIT_S_A_CLIENT * clients, all_s = bench.seconds;
    printf("%-36s %8.2f s (limit %g s); %" G_GINT64_FORMAT " resources of %d clients\n",
           "the clinic as FHIR", all_s, limit_s, bench.resources, clients);
    printf("%-36s %8.2f s; %u rows\n", "rows read only", bare_s, bench.rows);
    printf("%-36s %8.1f MB, %.1f MB after it\n", "most memory before", before, memory_mb("VmHWM:"));
    g_ptr_array_unref(bench.clients);
    folder_remove(bench.out);
    office_free(office);
    return all_s <= limit_s ? 0 : 1;
}
