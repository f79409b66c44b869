/* SPDX-License-Identifier: Apache-2.0 */
/* osierd: the program around a clinic's service. Runs the loop until it is told to stop. */
#include <glib.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>

#include "adapters/mail/compose.h"
#include "daemon/cli/cli.h"
#include "daemon/service.h"
#include "daemon/sync/proof.h"
#include "daemon/version.h"

/* Together less than TimeoutStopSec in config/systemd/osierd.service, or systemd cuts a stop short. */
#define STOP_WAIT_MS 35000
#define LEAVE_WAIT_MS 10000

typedef struct {
    uv_loop_t loop;
    Options options;
    Service service;
    uv_signal_t terminate;
    uv_signal_t interrupt;
    uv_signal_t hangup;
    uv_check_t leaving;
    uv_idle_t turning;
    uv_timer_t patience;
    int exit_code;
} Osierd;

/* --- stopping --- */

static void close_handle(uv_handle_t *handle, void *context)
{
    (void)context;
    if (!uv_is_closing(handle)) uv_close(handle, NULL);
}

static void stay_awake(uv_idle_t *idle)
{
    (void)idle;
}

static void on_leaving(uv_check_t *check)
{
    Osierd *self = check->data;

    if (service_is_done(&self->service)) uv_stop(&self->loop);
}

static void on_patience(uv_timer_t *timer)
{
    Osierd *self = timer->data;

    uv_stop(&self->loop);
}

/* Finishes what is in flight, then leaves the loop. */
static void begin_stop(Osierd *self, int exit_code)
{
    if (self->service.stopping) return;
    self->exit_code = exit_code;
    if (!service_stop(&self->service)) {
        uv_stop(&self->loop);
        return;
    }
    uv_check_start(&self->leaving, on_leaving);
    uv_idle_start(&self->turning, stay_awake);
    uv_timer_start(&self->patience, on_patience, STOP_WAIT_MS, 0);
}

static void on_failed(StoreStatus status, const char *problem, void *context)
{
    Osierd *self = context;
    int code = status == STORE_STALE ? EXIT_ANEW : EXIT_IO;

    cli_fault(code, "store", self->options.clinic, "%s%s", problem != NULL ? problem : "failed",
              status == STORE_STALE ? ""
                                    : "; osierd stops so that nothing is written through a device "
                                      "that has lied: run osier check");
    begin_stop(self, code);
}

/* Whose threads still part from a server closes its own handles when they have; closed under them, what they have to say to
 * the loop would end the program with an abort. */
static void let_leave(Osierd *self)
{
    uv_idle_stop(&self->turning);
    uv_timer_start(&self->patience, on_patience, LEAVE_WAIT_MS, 0);
    uv_unref((uv_handle_t *)&self->patience);
    uv_run(&self->loop, UV_RUN_DEFAULT);
}

static void release(Osierd *self)
{
    uv_check_stop(&self->leaving);
    service_close(&self->service);
    let_leave(self);
    uv_walk(&self->loop, close_handle, NULL);
    while (uv_run(&self->loop, UV_RUN_DEFAULT) != 0)
        continue;
    uv_loop_close(&self->loop);
    options_clear(&self->options);
}

/* --- starting --- */

static void on_terminate(uv_signal_t *signal, int number)
{
    (void)number;
    begin_stop(signal->data, EXIT_OK);
}

static void on_hangup(uv_signal_t *signal, int number)
{
    Osierd *self = signal->data;

    (void)number;
    service_reload(&self->service);
}

static void watch_signal(Osierd *self, uv_signal_t *handle, uv_signal_cb callback, int number)
{
    uv_signal_init(&self->loop, handle);
    handle->data = self;
    uv_signal_start(handle, callback, number);
    uv_unref((uv_handle_t *)handle);
}

static void set_up(Osierd *self)
{
    uv_loop_init(&self->loop);
    uv_check_init(&self->loop, &self->leaving);
    uv_idle_init(&self->loop, &self->turning);
    uv_timer_init(&self->loop, &self->patience);
    self->leaving.data = self->turning.data = self->patience.data = self;
    watch_signal(self, &self->terminate, on_terminate, SIGTERM);
    watch_signal(self, &self->interrupt, on_terminate, SIGINT);
    watch_signal(self, &self->hangup, on_hangup, SIGHUP);
}

/* Until it ends: the code to end with. */
static int serve(Osierd *self)
{
    Service *service = &self->service;
    int code = service_prepare(service, &self->loop, &self->options);

    if (code == EXIT_OK) code = service_open(service);
    if (code == EXIT_OK && !service->stopping) code = service_start(service, on_failed, self);
    if (code != EXIT_OK || service->stopping) return code;
    service_tell_ready(service);
    uv_run(&self->loop, UV_RUN_DEFAULT);
    return self->exit_code;
}

static int go_no_further(Osierd *self, int code)
{
    options_clear(&self->options);
    g_free(self);
    return code;
}

int main(int argc, char **argv)
{
    cli_begin();
    if (argc == 3 && strcmp(argv[1], "--look-over") == 0) return cli_end(proof_main(argv[2]));
    Osierd *self = g_new0(Osierd, 1);
    if (!options_read(argc, argv, &self->options)) return go_no_further(self, EXIT_USE);
    if (self->options.told != NULL) {
        fputs(self->options.told, stdout);
        return go_no_further(self, cli_end(EXIT_OK));
    }
    umask(0007);
    /* Keys, passwords and the record are in memory: none of it may land in a core dump, however osierd was started. */
    prctl(PR_SET_DUMPABLE, 0, 0, 0, 0);
    signal(SIGPIPE, SIG_IGN);
    mail_start();
    set_up(self);
    int code = serve(self);
    release(self);
    g_free(self);
    return code;
}
