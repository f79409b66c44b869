/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/service.h"

#include <malloc.h>
#include <stdio.h>
#include <string.h>

#include "adapters/net/net_curl.h"
#include "adapters/serve/serve_mhd.h"
#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"
#include "daemon/control/control.h"

#define CONTROL_BODY_MAX (1024 * 1024)

/* --- settings and clock --- */

static bool is_journal(void)
{
    return g_getenv("JOURNAL_STREAM") != NULL;
}

/* "FILE:LINE:COL: VALUE: WHY". A journal gets the place alone: the value may be somebody's number. */
static void print_faults(const GPtrArray *messages)
{
    for (guint i = 0; i < messages->len; i++) {
        const char *text = messages->pdata[i];
        const char *end = is_journal() ? strstr(text, ": ") : NULL;
        int length = end != NULL ? (int)(end - text) : (int)strlen(text);
        fprintf(stderr, "%.*s%s\n", length, text,
                end != NULL ? ": a fault; osier check-config tells it" : "");
    }
}

static void on_jump(int64_t from_ms, int64_t to_ms, void *context)
{
    Service *self = context;

    if (self->daemon != NULL) daemon_clock_jumped(self->daemon, from_ms, to_ms);
}

static bool open_clock(Service *self)
{
    int64_t start_ms = 0;

    if (self->options->clock != NULL && !instant_parse(self->options->clock, &start_ms)) {
        cli_fault(EXIT_USE, "--clock", self->options->clock,
                  "is no instant; write it as 2026-03-02T06:00:00Z");
        return false;
    }
    if (self->options->clock == NULL)
        self->clock = clock_live_new(self->loop, on_jump, self);
    else if (self->options->speed > 0)
        self->clock = clock_fast_new(self->loop, start_ms, self->options->speed);
    else
        self->clock = clock_stepped_new(start_ms);
    self->random = self->options->clock == NULL ? random_live_new()
                                                : random_seeded_new((uint64_t)self->options->seed);
    if (self->clock == NULL) return false;
    self->log = log_new(stderr, self->options->log, self->clock, is_journal());
    return true;
}

static ClinicStore place_of(const Service *self)
{
    return (ClinicStore){.dir = self->options->clinic,
                         .settings = self->settings,
                         .clock = self->clock,
                         .random = self->random};
}

/* What only reading needed, more than is kept, goes back to the system. */
static Settings *read_settings(const Service *self, GPtrArray *messages)
{
    Settings *settings = settings_load(self->options->clinic, messages);

    malloc_trim(0);
    return settings;
}

int service_prepare(Service *self, uv_loop_t *loop, const Options *options)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    *self = (Service){.loop = loop, .options = options, .manager = manager_new(loop)};
    self->settings = read_settings(self, messages);
    if (self->settings == NULL) {
        print_faults(messages);
        return cli_fault(EXIT_SETTINGS, "clinic", self->options->clinic,
                         "the settings have faults; osier check-config "
                         "tells them");
    }
    print_faults(settings_cautions(self->settings));
    if (!open_clock(self)) return EXIT_USE;
    ClinicStore place = place_of(self);
    return clinic_store_check(&place);
}

/* --- what listens --- */

/* A call of the JSON API, whichever osierd is doing. */
static void on_call(ServeRequest *request, void *context)
{
    Service *self = context;

    /* Or, where enough callers come one after the other, it would not end. */
    if (self->stopping)
        answer_fault(request, 503, EXIT_LATER, "osierd", "", "stops; try again once it is back");
    else if (self->daemon != NULL)
        control_handle(request, self->daemon);
    else
        standby_answer(self->await.standby, request);
}

static int listen_control(Service *self)
{
    g_autofree char *path = g_build_filename(self->options->clinic, "osierd.sock", NULL);
    const ServeLimits own = {
        .body_max = CONTROL_BODY_MAX, .connections_max = 64, .idle_timeout_s = 120};
    g_autofree char *why = NULL;

    self->control = serve_unix_new(self->loop, path, 0660, &own, on_call, self, &why);
    if (self->control != NULL) return EXIT_OK;
    return cli_fault(EXIT_CANNOT_MAKE, "socket", path, "%s", why);
}

static bool listen_hooks(Service *self, char **why)
{
    return hook_door_listen(&self->hook_door, self->loop, settings_clinic(self->settings),
                            daemon_intake(self->daemon), why);
}

static int listen_all(Service *self)
{
    g_autofree char *why = NULL;
    int code = self->control != NULL ? EXIT_OK : listen_control(self);

    if (code != EXIT_OK || listen_hooks(self, &why)) return code;
    return cli_fault(EXIT_CANNOT_MAKE, "hooks.listen",
                     settings_clinic(self->settings)->hooks_listen, "%s", why);
}

/* --- the store --- */

static int open_store(Service *self)
{
    ClinicStore place = place_of(self);
    g_autofree char *why = NULL;
    OpenResult result = clinic_store_open(&place, self->loop, &self->store, &why);

    return clinic_store_fault(&place, result, why);
}

/* Waits for its turn and opens the store; without one where osierd is to stop. */
static int stand_by(Service *self)
{
    const char *name = settings_clinic(self->settings)->name;

    self->await = (Await){.loop = self->loop, .place = place_of(self), .log = self->log};
    int code = await_check(&self->await.place);
    if (code == EXIT_OK) code = listen_control(self);
    if (code != EXIT_OK) return code;
    printf("osierd: stands by for %s, %s\n", name, self->options->clinic);
    fflush(stdout);
    manager_stands_by(self->manager, name);
    return await_store(&self->await, &self->store);
}

int service_open(Service *self)
{
    return self->options->stand_by ? stand_by(self) : open_store(self);
}

/* --- at work --- */

static int64_t wall(void *context)
{
    return clock_now(context);
}

static int holds(const char **what, void *context)
{
    Service *self = context;
    int served = self->control->open_requests(self->control) - stepper_waiting(self->stepper);
    int hooked = hook_door_busy(&self->hook_door);
    int visited = self->page != NULL ? page_busy(self->page) : 0;
    int inside = daemon_holds(self->daemon, what);
    int visiting = self->sync != NULL ? sync_busy(self->sync) : 0;

    if (inside == 0 && served > 0)
        *what = "a call on the control socket";
    else if (inside == 0 && hooked > 0)
        *what = "a webhook";
    else if (inside == 0 && visited > 0)
        *what = "a call from the page";
    else if (inside == 0 && visiting > 0)
        *what = "a visit between replicas";
    return inside + MAX(0, served) + hooked + visited + visiting;
}

int service_start(Service *self, DeskFailed *failed, void *context)
{
    g_autofree char *why = NULL;
    const NetCurlOptions net = {.loopback_only = clock_is_virtual(self->clock),
                                .wall_ms = wall,
                                .wall_context = self->clock,
                                .connections_max = 64,
                                .ca_file = g_getenv("OSIER_CA_FILE")};
    self->net = net_curl_new(self->loop, &net, &why);
    if (self->net == NULL) return cli_fault(EXIT_IO, "net", "", "%s", why);
    self->daemon = daemon_new(&(DaemonPorts){.clock = self->clock,
                                             .random = self->random,
                                             .store = self->store,
                                             .net = self->net,
                                             .dir = self->options->clinic,
                                             .loop = self->loop,
                                             .log = self->log},
                              self->settings, failed, context);
    int code = listen_all(self);
    if (code != EXIT_OK) return code;
    if (clock_is_stepped(self->clock)) {
        self->stepper = stepper_new(self->loop, self->clock, holds, self);
        daemon_set_stepper(self->daemon, self->stepper);
    }
    self->sync =
        sync_new(self->loop, self->daemon, self->options->clinic, clock_is_virtual(self->clock));
    daemon_set_sync(self->daemon, self->sync, sync_moved, sync_erased);
    daemon_start(self->daemon);
    if (!sync_start(self->sync, &why))
        return cli_fault(EXIT_CANNOT_MAKE, "sync.listen",
                         settings_clinic(self->settings)->sync_listen != NULL
                             ? settings_clinic(self->settings)->sync_listen
                             : "",
                         "%s", why);
    self->page = page_new(self->loop, self->daemon);
    return EXIT_OK;
}

void service_tell_ready(const Service *self)
{
    const Clinic *clinic = settings_clinic(self->settings);

    printf("osierd: %s, %s\n", clinic->name, self->options->clinic);
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->kind == GATEWAY_SPOOL)
            printf("osierd: gateway %s is a spool: messages are written to %s/spool and NOTHING IS "
                   "SENT\n",
                   gateway->name, self->options->clinic);
    }
    g_autofree char *seed = self->options->clock != NULL
                                ? g_strdup_printf("%" G_GINT64_FORMAT, self->options->seed)
                                : NULL;
    log_line(self->log, LOG_PLAIN, "osierd.ready", "log", log_level_name(self->options->log),
             "seed", seed, NULL);
    if (clock_is_virtual(self->clock))
        printf("osierd: the clock is made up; only the loopback is spoken to\n");
    printf("osierd: ready\n");
    fflush(stdout);
    manager_ready(self->manager, clinic->name);
}

void service_reload(Service *self)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;

    if (self->stopping) return;
    if (self->daemon == NULL) {
        log_line(self->log, LOG_WARNINGS, "settings.kept", "why",
                 "it stands by: start it anew to take new settings", NULL);
        return;
    }
    Settings *fresh = read_settings(self, messages);
    if (fresh == NULL) {
        print_faults(messages);
        log_line(self->log, LOG_ERRORS, "settings.refused", "why",
                 "they have a fault; the old ones stay in force", NULL);
        return;
    }
    print_faults(settings_cautions(fresh));
    daemon_reload(self->daemon, fresh);
    settings_unref(self->settings);
    self->settings = fresh;
    if (!listen_hooks(self, &why))
        log_line(self->log, LOG_ERRORS, "hooks.refused", "listen",
                 settings_clinic(fresh)->hooks_listen, "why", why, "then",
                 "webhooks are heard where they were", NULL);
    if (!sync_reload(self->sync, &why))
        log_line(self->log, LOG_ERRORS, "sync.refused", "listen",
                 settings_clinic(fresh)->sync_listen, "why", why, "then",
                 "replicas are heard where they were", NULL);
    page_reload(self->page);
    manager_ready(self->manager, settings_clinic(fresh)->name);
    log_line(self->log, LOG_PLAIN, "settings.taken", NULL);
}

/* --- stopping --- */

bool service_stop(Service *self)
{
    self->stopping = true;
    log_line(self->log, LOG_PLAIN, "osierd.stops", NULL);
    manager_stopping(self->manager);
    if (self->daemon == NULL) { /* it stands by */
        self->await.stopped = true;
        return false;
    }
    daemon_stop(self->daemon);
    if (self->sync != NULL) sync_stop(self->sync);
    return true;
}

bool service_is_done(const Service *self)
{
    const char *what;

    return daemon_holds(self->daemon, &what) == 0;
}

void service_close(Service *self)
{
    /* Where it could not start all that began is stopped like the rest; and nothing of it is looked at any more. */
    if (self->daemon != NULL && !self->stopping) daemon_stop(self->daemon);
    self->stopping = true;
    stepper_free(self->stepper);
    if (self->page != NULL) page_close(self->page);
    if (self->sync != NULL) sync_stop(self->sync);
    manager_free(self->manager);
    hook_door_close(&self->hook_door);
    if (self->control != NULL) self->control->close(self->control);
    if (self->net != NULL) self->net->close(self->net);
    if (self->store != NULL) self->store->close(self->store);
    sync_free(self->sync);
    daemon_free(self->daemon);
    log_free(self->log);
    if (self->clock != NULL) clock_free(self->clock);
    random_free(self->random);
    settings_unref(self->settings);
}
