/* SPDX-License-Identifier: Apache-2.0 */
#define _GNU_SOURCE /* RUSAGE_THREAD */
#include "tests/bench/office.h"

#include "adapters/mail/compose.h"
#include "adapters/net/net_curl.h"
#include "adapters/store/find_work.h"
#include "daemon/clinic_store.h"
#include "tests/bench/sink.h"
#include "tests/support/folder.h"
#include "tests/support/pg_server.h"

#include <stdlib.h>
#include <sys/resource.h>

static const char SETTINGS[] = "clinic:\n"
                               "  name: Alder Row Physiotherapy\n"
                               "  zone: Europe/London\n"
                               "  language: en\n"
                               "  phone: \"+442079460100\"\n"
                               "  emergency: \"999\"\n"
                               "  country_code: \"44\"\n"
                               "  hours: {mon-fri: \"08:30-17:30\"}\n"
                               "  quiet: \"21:00-08:00\"\n"
                               "  digest: {day: sunday, at: \"20:00\", to: [desk@clinic.example]}\n"
                               "limits: {missed_run: 30}\n"
                               "reminders: {nudge_after: none}\n"
                               "duty:\n"
                               "  - {name: R. Okafor, sms: \"+442079460190\"}\n";

static char *gateways(int port)
{
    if (port == 0) return g_strdup("gateways:\n  spool: {kind: spool}\n");
    return g_strdup_printf(
        "hooks: {listen: \"127.0.0.1:%d\"}\n"
        "gateways:\n"
        "  texts:\n"
        "    kind: http-sms\n"
        "    takes_key: true\n"
        "    send:\n"
        "      url: http://127.0.0.1:%d/messages\n"
        "      headers: {Idempotency-Key: \"{id}\"}\n"
        "      json: {to: \"{to}\", text: \"{text}\", ref: \"{id}\"}\n"
        "      accepted: {status: [202], id: /id}\n"
        "    webhook: {path: /in, id: /id, from: /from, text: /text, signature: none}\n",
        sink_free_port(), port);
}

static int64_t wall(void *context)
{
    return clock_now(context);
}

static void open_all(Office *office, const char *start)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t start_ms;

    g_assert(instant_parse(start, &start_ms));
    uv_loop_init(&office->loop);
    office->settings = settings_load(office->folder, messages);
    for (guint i = 0; i < messages->len; i++)
        g_printerr("%s\n", (const char *)messages->pdata[i]);
    g_assert(office->settings != NULL);
    office->clock = clock_fast_new(&office->loop, start_ms, office->speed);
    office->random = random_seeded_new(1);
    const ClinicStore place = {.dir = office->folder,
                               .settings = office->settings,
                               .clock = office->clock,
                               .random = office->random};
    if (clinic_store_open(&place, &office->loop, &office->store, &why) != OPEN_OK)
        g_error("%s", why);
    office->net = net_curl_new(&office->loop,
                               &(NetCurlOptions){.loopback_only = true,
                                                 .wall_ms = wall,
                                                 .wall_context = office->clock,
                                                 .connections_max = 64},
                               &why);
    office->daemon = daemon_new(&(DaemonPorts){.clock = office->clock,
                                               .random = office->random,
                                               .store = office->store,
                                               .net = office->net,
                                               .dir = office->folder,
                                               .loop = &office->loop},
                                office->settings, NULL, NULL);
}

static void close_all(Office *office)
{
    const char *what;

    daemon_stop(office->daemon);
    while (daemon_holds(office->daemon, &what) > 0)
        uv_run(&office->loop, UV_RUN_ONCE);
    office->net->close(office->net);
    office->store->close(office->store);
    daemon_free(office->daemon);
    clock_free(office->clock);
    random_free(office->random);
    settings_unref(office->settings);
    while (uv_run(&office->loop, UV_RUN_DEFAULT) != 0)
        continue;
    g_assert(uv_loop_close(&office->loop) == 0);
}

static Office *office_with(const char *ways, const char *start)
{
    Office *office = g_new0(Office, 1);
    g_autofree char *text = g_strconcat(SETTINGS, ways, NULL);

    mail_start();
    office->speed = 1;
    office->folder = folder_new();
    folder_write(office->folder, "clinic.yaml", text, -1, 0600);
    open_all(office, start);
    return office;
}

Office *office_new(int port, const char *start)
{
    g_autofree char *ways = gateways(port);

    return office_with(ways, start);
}

Office *office_new_on_server(int port, const char *start)
{
    g_autofree char *ways = gateways(port);
    g_autofree char *schema = pg_server_schema();
    g_autofree char *all =
        g_strdup_printf("%sstore: {kind: postgres, connect: \"%s\", schema: %s}\n", ways,
                        pg_server_connect(), schema);

    return office_with(all, start);
}

Office *office_new_with_mail(int port, int mail_port, const char *start)
{
    g_autofree char *texts = gateways(port);
    g_autofree char *ways =
        g_strdup_printf("%s  post:\n    kind: mail\n    from: \"Alder Row <row@clinic.example>\"\n"
                        "    smtp: {url: \"smtp://127.0.0.1:%d\"}\n",
                        texts, mail_port);

    return office_with(ways, start);
}

void office_reopen(Office *office, const char *start)
{
    close_all(office);
    open_all(office, start);
}

char *office_leave(Office *office)
{
    char *folder = office->folder;

    close_all(office);
    g_free(office);
    return folder;
}

void office_free(Office *office)
{
    folder_remove(office_leave(office));
}

/* --- the store thread --- */

static void note_done(StoreStatus status, void *context)
{
    g_assert(status == STORE_OK);
    *(bool *)context = true;
}

typedef struct {
    JobRun *run;
    void *context;
    bool done;
} Errand;

static bool run_errand(Job *job, void *context)
{
    Errand *errand = context;

    return errand->run(job, errand->context);
}

static void errand_done(StoreStatus status, void *context)
{
    note_done(status, &((Errand *)context)->done);
}

void office_job(Office *office, JobRun *run, void *context)
{
    Errand errand = {.run = run, .context = context};

    desk_submit(daemon_desk(office->daemon), run_errand, errand_done, &errand);
    while (!errand.done)
        uv_run(&office->loop, UV_RUN_ONCE);
}

static bool cpu_job(Job *job, void *context)
{
    struct rusage used;

    (void)job;
    getrusage(RUSAGE_THREAD, &used);
    *(double *)context = (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e6 +
                         (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
    return true;
}

double office_store_cpu_us(Office *office)
{
    double cpu_us = 0;

    office_job(office, cpu_job, &cpu_us);
    return cpu_us;
}

static bool due_job(Job *job, void *context)
{
    *(int64_t *)context = find_next_due(job->tx);
    return true;
}

/* --- waiting --- */

void office_wait_quiet(Office *office)
{
    const char *what;
    int64_t next_ms = 0;

    while (next_ms <= clock_now(office->clock)) {
        while (daemon_holds(office->daemon, &what) > 0)
            uv_run(&office->loop, UV_RUN_ONCE);
        office_job(office, due_job, &next_ms);
    }
}

static void print_state(const TxResult *result, void *context)
{
    (void)context;
    g_printerr("  %s %s: %s %s\n", result->text[0], result->text[1], result->text[2],
               result->text[3] != NULL ? result->text[3] : "");
}

static bool print_job(Job *job, void *context)
{
    (void)context;
    tx_select(job->tx,
              "SELECT kind, fate, count(*), max(reason) FROM message GROUP BY kind, fate UNION ALL"
              " SELECT kind, state, count(*), max(reason) FROM outbox GROUP BY kind, state",
              print_state, NULL, "");
    return true;
}

static void tick(uv_timer_t *timer)
{
    (void)timer;
}

static void give_up(Office *office)
{
    g_printerr("nothing has been accepted for a minute:\n");
    office_job(office, print_job, NULL);
    exit(1);
}

static int64_t accepted(Office *office)
{
    return desk_tally(daemon_desk(office->daemon))->fates[FATE_ACCEPTED];
}

void office_wait_accepted(Office *office, int count)
{
    int64_t before = 0, moved_us = g_get_monotonic_time();
    uv_timer_t timer;

    uv_timer_init(&office->loop, &timer);
    uv_timer_start(&timer, tick, 500, 500);
    while (accepted(office) < count) {
        uv_run(&office->loop, UV_RUN_ONCE);
        int64_t now_us = g_get_monotonic_time();
        if (accepted(office) > before) moved_us = now_us;
        before = accepted(office);
        if (now_us - moved_us > 60 * G_USEC_PER_SEC) give_up(office);
    }
    uv_close((uv_handle_t *)&timer, NULL);
    uv_run(&office->loop, UV_RUN_NOWAIT);
}
