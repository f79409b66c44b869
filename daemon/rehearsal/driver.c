/* SPDX-License-Identifier: Apache-2.0 */
/* The working copy lies in a folder of its own under the system's temporary folder: its ports are
 * chosen anew each time, and what is left in the results must be the same for the same seed. Only
 * the store is moved to the results at the end. */
#include "daemon/rehearsal/driver.h"

#include <arpa/inet.h>
#include <errno.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/mail/compose.h"
#include "adapters/net/net_curl.h"
#include "adapters/serve/serve_mhd.h"
#include "daemon/cli/cli.h"
#include "daemon/rehearsal/child.h"
#include "daemon/rehearsal/post_office.h"
#include "daemon/rehearsal/results.h"
#include "daemon/rehearsal/scratch.h"
#include "daemon/rehearsal/setup.h"
#include "daemon/rehearsal/telling.h"
#include "daemon/rehearsal/working_copy.h"

/* The days of a rehearsal run from a quarter past eight to a quarter past eight of the clinic's
 * clock: behind the digest of the usual hour, before the first sessions. */
enum { HOUR_OF_START_S = (8 * 60 + 15) * 60, READY_TRIES = 1000, READY_WAIT_MS = 10 };

typedef struct {
    const Rehearsal *wish;
    uv_loop_t loop;
    uv_signal_t interrupt;
    bool interrupted;
    char *scratch;
    Serve *gateway;
    PostOffice *office;
    ImapMailbox mailbox; /* the clinic's */
    Net *net;
    Child *child;
    ClinicFolder *folder;
    Link link;
    Places places;
    World *world;
    Telling telling;
    int64_t start_ms;
    int64_t end_ms;
} Theatre;

static void on_interrupt(uv_signal_t *signal, int number)
{
    (void)number;
    ((Theatre *)signal->data)->interrupted = true;
}

/* --- the stage is set ----------------------------------------------------------------------- */

/* The stand-ins are opened before there is a world; until then nothing reaches them. */
static void on_request(ServeRequest *request, void *context)
{
    Theatre *stage = context;

    if (stage->world != NULL)
        world_serve(request, stage->world);
    else
        serve_answer(request, 503, NULL, NULL, NULL);
}

static void on_mail(const GPtrArray *to, GBytes *mail, void *context)
{
    Theatre *stage = context;

    if (stage->world != NULL) world_mail(to, mail, stage->world);
}

static int64_t no_wall(void *unused)
{
    (void)unused;
    return 0;
}

static int open_stand_ins(Theatre *stage)
{
    const ServeLimits limits = {
        .body_max = 1024 * 1024, .connections_max = 512, .idle_timeout_s = 600};
    const NetCurlOptions net = {.loopback_only = true, .wall_ms = no_wall, .connections_max = 16};
    g_autofree char *why = NULL;

    stage->gateway = serve_tcp_new(&stage->loop, "127.0.0.1:0", &limits, on_request, stage, &why);
    if (stage->gateway != NULL)
        stage->office = post_office_new(&stage->loop, &stage->mailbox, on_mail, stage, &why);
    if (stage->office != NULL) stage->net = net_curl_new(&stage->loop, &net, &why);
    if (stage->net == NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "rehearse", "127.0.0.1", "%s",
                         why != NULL ? why : "cannot be listened on");
    stage->places = (Places){.gateway = serve_port(stage->gateway),
                             .mail = post_office_smtp_port(stage->office),
                             .mailbox = post_office_imap_port(stage->office)};
    if (!scratch_free_ports(&stage->places.hooks, &stage->places.page))
        return cli_fault(EXIT_CANNOT_MAKE, "rehearse", "127.0.0.1", "no free port");
    return EXIT_OK;
}

static int tell_faults(const GPtrArray *messages, const char *clinic)
{
    for (guint i = 0; i < messages->len; i++)
        fprintf(stderr, "%s\n", (const char *)messages->pdata[i]);
    return cli_fault(EXIT_SETTINGS, "rehearse", clinic,
                     "the settings have faults; osier check-config --clinic %s tells them", clinic);
}

static int copy_clinic(Theatre *stage)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *blank = g_strnfill(6, 'X'); /* filled with what makes it the only one */
    g_autofree char *name = g_strconcat("osier-rehearsal-", blank, NULL);
    g_autoptr(GError) error = NULL;

    stage->scratch = g_dir_make_tmp(name, &error);
    if (stage->scratch == NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "rehearse", g_get_tmp_dir(), "%s", error->message);
    if (!working_copy_make(stage->wish->clinic, stage->scratch, &stage->places, messages))
        return tell_faults(messages, stage->wish->clinic);
    stage->folder = clinic_folder_load(stage->scratch, messages);
    return stage->folder != NULL ? EXIT_OK : tell_faults(messages, stage->wish->clinic);
}

static void wait_a_moment(uv_timer_t *timer)
{
    *(bool *)timer->data = true;
    uv_stop(timer->loop); /* or this turn goes on to sleep in its poll */
}

static void pause_ms(Theatre *stage, int ms)
{
    uv_timer_t timer;
    bool over = false;

    uv_timer_init(&stage->loop, &timer);
    timer.data = &over;
    uv_timer_start(&timer, wait_a_moment, (uint64_t)ms, 0);
    while (!over)
        uv_run(&stage->loop, UV_RUN_ONCE);
    uv_close((uv_handle_t *)&timer, NULL);
    uv_run(&stage->loop, UV_RUN_NOWAIT);
}

static int start_daemon(Theatre *stage)
{
    g_autofree char *clock = instant_format(stage->start_ms);
    g_autofree char *why = NULL;

    stage->child = child_start(&stage->loop, stage->scratch, clock, stage->wish->seed, &why);
    if (stage->child == NULL) return cli_fault(EXIT_NO_DAEMON, "osierd", "", "%s", why);
    for (int i = 0; i < READY_TRIES && child_runs(stage->child); i++) {
        json_t *status = link_ask(&stage->link, "GET", "/status", NULL, NULL);
        g_clear_pointer(&stage->link.problem, g_free);
        json_decref(status);
        if (status != NULL) return EXIT_OK;
        pause_ms(stage, READY_WAIT_MS);
    }
    return cli_fault(EXIT_NO_DAEMON, "osierd", stage->wish->clinic, "does not come up");
}

static int set_stage(Theatre *stage)
{
    int code = open_stand_ins(stage);
    g_autoptr(Zones) zones = zones_new();

    if (code == EXIT_OK) code = copy_clinic(stage);
    if (code != EXIT_OK) return code;
    GTimeZone *zone = zones_get(zones, stage->folder->clinic->zone);
    LocalTime start = {stage->wish->from, HOUR_OF_START_S};
    LocalTime end = {stage->wish->from + stage->wish->days, HOUR_OF_START_S};
    stage->start_ms = zone_instant(zone, start, NULL);
    stage->end_ms = zone_instant(zone, end, NULL);
    stage->link = (Link){.loop = &stage->loop,
                         .net = stage->net,
                         .socket = g_build_filename(stage->scratch, "osierd.sock", NULL)};
    code = start_daemon(stage);
    if (code != EXIT_OK) return code;
    stage->world = world_new(&(WorldPlan){.loop = &stage->loop,
                                          .folder = stage->folder,
                                          .link = &stage->link,
                                          .mailbox = &stage->mailbox,
                                          .seed = (uint64_t)stage->wish->seed,
                                          .clients = (size_t)stage->wish->clients,
                                          .from = stage->wish->from,
                                          .start_ms = stage->start_ms,
                                          .end_ms = stage->end_ms,
                                          .hooks_port = stage->places.hooks});
    stage->link.now_ms = &stage->world->now_ms;
    return EXIT_OK;
}

/* --- the days go by ------------------------------------------------------------------------- */

/* Why it cannot go on. */
static int broken(Theatre *stage)
{
    if (stage->interrupted)
        return cli_fault(EXIT_LATER, "rehearse", stage->wish->out, "interrupted");
    if (!child_runs(stage->child))
        return cli_fault(EXIT_IO, "osierd", stage->wish->clinic, "ended by itself with %d",
                         child_code(stage->child));
    return cli_fault(EXIT_IO, "rehearse", "osierd", "%s",
                     stage->link.problem != NULL ? stage->link.problem : "does not answer");
}

/* Moves the daemon's clock to the instant; its next one, INT64_MAX for none. False: no answer. */
static bool step(Theatre *stage, int64_t to_ms, int64_t *next_ms)
{
    g_autofree char *to = instant_format_exact(to_ms);

    stage->world->now_ms = to_ms;
    json_t *answer = link_must(&stage->link, "POST", "/clock", json_pack("{s:s}", "to", to));
    const char *due = json_string_value(json_object_get(answer, "next_due"));
    if (due == NULL || !instant_parse(due, next_ms)) *next_ms = INT64_MAX;
    json_decref(answer);
    return answer != NULL;
}

/* Both sides act at this instant until neither has work at it. */
static bool settle_instant(Theatre *stage, int64_t now_ms, int64_t *next_ms)
{
    do {
        if (!step(stage, now_ms, next_ms)) return false;
    } while (world_act(stage->world));
    return true;
}

static bool tell(Theatre *stage)
{
    World *world = stage->world;

    if (stage->wish->json) return true;
    if (world->stirred || telling_day_over(&stage->telling, world)) {
        json_t *alerts = link_must(&stage->link, "GET", "/alerts?all=1", NULL);
        if (alerts == NULL) return false;
        telling_alerts(&stage->telling, world, alerts);
        json_decref(alerts);
        world->stirred = false;
    }
    telling_moves(&stage->telling, world);
    telling_progress(&stage->telling, world);
    return true;
}

static bool run_days(Theatre *stage)
{
    int64_t now_ms = stage->start_ms;
    int64_t next_ms = INT64_MAX;

    while (settle_instant(stage, now_ms, &next_ms) && tell(stage) && !stage->interrupted) {
        if (now_ms >= stage->end_ms) return true;
        int64_t wanted_ms = MIN(next_ms, agenda_next(stage->world->agenda));
        now_ms = MIN(MAX(wanted_ms, now_ms + 1), stage->end_ms);
    }
    return false;
}

/* --- and are looked back on ----------------------------------------------------------------- */

static void print_week(Theatre *stage)
{
    json_t *answer = link_must(&stage->link, "GET", "/week?format=text", NULL);
    const char *page = json_string_value(json_object_get(answer, "page"));

    if (page != NULL) printf("\n%s\n", page);
    json_decref(answer);
}

static int look_back(Theatre *stage)
{
    Findings findings = {0};
    g_autofree char *why = NULL;
    g_autofree char *store = g_build_filename(stage->scratch, "store.db", NULL);
    json_t *summary = NULL;
    int code = EXIT_OK;

    telling_end(&stage->telling);
    if (!stage->wish->json) print_week(stage);
    if (!findings_gather(&findings, stage->world, stage->wish->days)) {
        code = broken(stage);
    } else {
        child_stop(stage->child);
        if (child_code(stage->child) != 0) code = broken(stage);
    }
    if (code == EXIT_OK) {
        summary = results_write(&findings, stage->world, store, stage->wish->out, &why);
        if (summary == NULL || !scratch_move(store, stage->wish->out, &why))
            code = cli_fault(EXIT_IO, "rehearse", stage->wish->out, "%s", why);
    }
    findings_clear(&findings);
    if (code != EXIT_OK) {
        json_decref(summary);
        return code;
    }
    if (stage->wish->json) {
        cli_json(summary);
    } else {
        telling_results(summary, stage->wish->out);
        json_decref(summary);
    }
    return fflush(stdout) == 0 ? EXIT_OK : EXIT_IO;
}

static int act(Theatre *stage)
{
    int code = set_stage(stage);

    if (code != EXIT_OK) return code;
    g_autofree char *from = day_format(stage->wish->from);
    if (!stage->wish->json)
        printf("%s: %d days from %s, %zu made-up clients, seed %" G_GINT64_FORMAT "\n",
               stage->folder->clinic->name, stage->wish->days, from, stage->world->n_residents,
               stage->wish->seed);
    telling_start(&stage->telling, stage->wish->days);
    int64_t next_ms;
    if (!step(stage, stage->start_ms, &next_ms) || !setup_people(stage->world) ||
        !run_days(stage)) {
        telling_end(&stage->telling);
        return broken(stage);
    }
    return look_back(stage);
}

/* --- out folder and life -------------------------------------------------------------------- */

static int make_out(const char *out)
{
    g_autoptr(GDir) folder = NULL;

    if (g_mkdir_with_parents(out, 0700) != 0)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out, "%s", g_strerror(errno));
    folder = g_dir_open(out, 0, NULL);
    if (folder == NULL) return cli_fault(EXIT_CANNOT_MAKE, "--out", out, "cannot be opened");
    if (g_dir_read_name(folder) != NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out,
                         "is not empty; name a new folder, or empty this one");
    return EXIT_OK;
}

static void close_stage(Theatre *stage)
{
    if (stage->child != NULL) child_stop(stage->child);
    child_free(stage->child);
    if (stage->gateway != NULL) stage->gateway->close(stage->gateway);
    post_office_close(stage->office);
    if (stage->net != NULL) stage->net->close(stage->net);
    uv_close((uv_handle_t *)&stage->interrupt, NULL);
    while (uv_run(&stage->loop, UV_RUN_DEFAULT) != 0)
        continue;
    uv_loop_close(&stage->loop);
    world_free(stage->world);
    clinic_folder_free(stage->folder);
    g_free((char *)stage->link.socket);
    g_free(stage->link.problem);
    if (stage->scratch != NULL) scratch_remove(stage->scratch);
    g_free(stage->scratch);
}

int rehearse(const Rehearsal *rehearsal)
{
    Theatre stage = {
        .wish = rehearsal,
        .mailbox = {.mails = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref),
                    .first_uid = 1,
                    .validity = 1}};
    int code = make_out(rehearsal->out);

    if (code != EXIT_OK) return code;
    signal(SIGPIPE, SIG_IGN);
    mail_start();
    uv_loop_init(&stage.loop);
    uv_signal_init(&stage.loop, &stage.interrupt);
    stage.interrupt.data = &stage;
    uv_signal_start(&stage.interrupt, on_interrupt, SIGINT);
    uv_unref((uv_handle_t *)&stage.interrupt);
    code = act(&stage);
    if (code != EXIT_OK && stage.child != NULL) child_tell(stage.child);
    close_stage(&stage);
    g_ptr_array_unref(stage.mailbox.mails);
    return code;
}
