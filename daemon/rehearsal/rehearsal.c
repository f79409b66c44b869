/* SPDX-License-Identifier: Apache-2.0 */
/* The driver steps to the earlier of the daemon's and the world's next instant, lets the world act, and steps again until
 * neither has work at that instant. */
#include "daemon/rehearsal/rehearsal.h"

#include <arpa/inet.h>
#include <errno.h>
#include <glib/gstdio.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "adapters/files/share.h"
#include "adapters/mail/compose.h"
#include "adapters/net/net_curl.h"
#include "adapters/serve/serve_mhd.h"
#include "daemon/cli/cli.h"
#include "daemon/rehearsal/child.h"
#include "daemon/rehearsal/enrol.h"
#include "daemon/rehearsal/harvest.h"
#include "daemon/rehearsal/post_office.h"
#include "daemon/rehearsal/progress.h"
#include "daemon/rehearsal/working_copy.h"

enum { READY_TRIES = 200, READY_WAIT_MS = 50, START_HOUR = 6, EVENING_HOUR = 22 };

typedef struct {
    const RehearsalPlan *plan;
    uv_loop_t loop;
    char *work; /* the working copy's folder */
    char *socket;
    Places places;
    Net *net;
    Serve *gateway;
    PostOffice *office;
    ClinicFolder *folder;
    Child *child;
    Link link;
    World *world;
    Progress *progress;
    uv_timer_t pause;
    int64_t start_ms;
    int64_t end_ms;
} Rehearsal;

/* --- small things --- */

static int64_t wall(void *context)
{
    (void)context;
    return g_get_real_time() / 1000;
}

/* A port that nobody listens on now. */
static int free_port(void)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    int port = 0;

    if (fd >= 0 && bind(fd, (struct sockaddr *)&address, sizeof address) == 0 &&
        getsockname(fd, (struct sockaddr *)&address, &length) == 0)
        port = ntohs(address.sin_port);
    if (fd >= 0) close(fd);
    return port;
}

static void remove_tree(const char *path)
{
    if (g_file_test(path, G_FILE_TEST_IS_DIR) && !g_file_test(path, G_FILE_TEST_IS_SYMLINK)) {
        g_autoptr(GDir) dir = g_dir_open(path, 0, NULL);
        for (const char *name; dir != NULL && (name = g_dir_read_name(dir)) != NULL;) {
            g_autofree char *inside = g_build_filename(path, name, NULL);
            remove_tree(inside);
        }
    }
    g_remove(path);
}

static int make_out(const char *out)
{
    g_autoptr(GDir) dir = g_dir_open(out, 0, NULL);

    if (dir != NULL && g_dir_read_name(dir) != NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out,
                         "is there and not empty; name a new folder");
    if (dir == NULL && g_mkdir_with_parents(out, 0755) != 0)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", out, "%s", g_strerror(errno));
    return EXIT_OK;
}

/* --- servers and the daemon --- */

/* The stand-ins' servers run before the world does: nothing reaches them until osierd starts. */
static void serve(ServeRequest *request, void *context)
{
    Rehearsal *self = context;

    world_serve(request, self->world);
}

static void take_mail(const GPtrArray *to, GBytes *mail, void *context)
{
    Rehearsal *self = context;

    world_mail(to, mail, self->world);
}

static int open_servers(Rehearsal *self)
{
    const ServeLimits limits = {
        .body_max = 1024 * 1024, .connections_max = 256, .idle_timeout_s = 120};
    const NetCurlOptions net = {.loopback_only = true, .wall_ms = wall, .connections_max = 16};
    g_autofree char *why = NULL;

    self->net = net_curl_new(&self->loop, &net, &why);
    if (self->net != NULL)
        self->gateway = serve_tcp_new(&self->loop, "127.0.0.1:0", &limits, serve, self, &why);
    if (self->gateway != NULL) self->office = post_office_new(&self->loop, take_mail, self, &why);
    if (self->office == NULL) return cli_fault(EXIT_IO, "rehearse", "", "%s", why);
    self->places = (Places){.gateway = serve_port(self->gateway),
                            .mail = post_office_port(self->office),
                            .hooks = free_port(),
                            .page = free_port()};
    return EXIT_OK;
}

static int copy_clinic(Rehearsal *self)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GError) error = NULL;

    self->work = g_dir_make_tmp("osier-rehearsal-XXXXXX", &error);
    if (self->work == NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "rehearse", "", "%s", error->message);
    if (working_copy_make(self->plan->clinic, self->work, &self->places, messages))
        self->folder = clinic_folder_load(self->work, messages);
    for (guint i = 0; i < messages->len; i++)
        fprintf(stderr, "%s\n", (const char *)messages->pdata[i]);
    if (self->folder == NULL)
        return cli_fault(EXIT_SETTINGS, "--clinic", self->plan->clinic, "the settings have faults");
    self->socket = g_build_filename(self->work, "osierd.sock", NULL);
    return EXIT_OK;
}

static void on_pause(uv_timer_t *timer)
{
    *(bool *)timer->data = true;
}

static void wait_ms(Rehearsal *self, uint64_t ms)
{
    bool over = false;

    self->pause.data = &over;
    uv_update_time(&self->loop); /* else it may be due before the loop first waits */
    uv_timer_start(&self->pause, on_pause, ms, 0);
    while (!over)
        uv_run(&self->loop, UV_RUN_ONCE);
}

static int start_child(Rehearsal *self)
{
    g_autofree char *clock = instant_format(self->start_ms);
    g_autofree char *why = NULL;

    self->child = child_start(&self->loop, self->work, clock, self->plan->seed, &why);
    if (self->child == NULL) return cli_fault(EXIT_NO_DAEMON, "osierd", "", "%s", why);
    for (int i = 0; i < READY_TRIES && child_runs(self->child); i++) {
        if (g_file_test(self->socket, G_FILE_TEST_EXISTS)) {
            json_t *status = link_must(&self->link, "GET", "/status", NULL);
            json_decref(status);
            g_clear_pointer(&self->link.problem, g_free);
            if (status != NULL) return EXIT_OK;
        }
        wait_ms(self, READY_WAIT_MS);
    }
    return cli_fault(EXIT_NO_DAEMON, "osierd", self->work, "did not come up");
}

/* --- the days --- */

/* Steps the daemon to an instant; its next due instant, or INT64_MAX. False where the call failed. */
static bool step(Rehearsal *self, int64_t to_ms, int64_t *next_ms)
{
    g_autofree char *to = instant_format_exact(to_ms);
    json_t *answer = link_must(&self->link, "POST", "/clock", json_pack("{s:s}", "to", to));
    const char *next = json_string_value(json_object_get(answer, "next_due"));

    *next_ms = INT64_MAX;
    if (next != NULL) instant_parse(next, next_ms);
    json_decref(answer);
    return answer != NULL;
}

/* One instant: daemon and world in turn until neither has anything to do in it. */
static bool live_through(Rehearsal *self, int64_t at_ms, int64_t *next_ms)
{
    bool busy = true;

    self->world->now_ms = at_ms;
    while (busy) {
        self->world->stirred = false;
        if (!step(self, at_ms, next_ms)) return false;
        busy = world_act(self->world) || self->world->stirred;
    }
    return true;
}

static bool live(Rehearsal *self)
{
    int64_t next_ms;

    if (!live_through(self, self->start_ms, &next_ms)) return false;
    while (true) {
        int64_t at_ms = MIN(next_ms, agenda_next(self->world->agenda));
        if (at_ms >= self->end_ms) break;
        progress_at(self->progress, self->world, at_ms);
        if (!live_through(self, at_ms, &next_ms)) return false;
    }
    bool good = live_through(self, self->end_ms, &next_ms);
    progress_end(self->progress, self->world);
    return good;
}

/* --- the end --- */

static int harvest_all(Rehearsal *self)
{
    Harvest harvest = {0};
    g_autofree char *store = g_build_filename(self->work, "store.db", NULL);
    g_autofree char *kept = g_build_filename(self->plan->out, "store.db", NULL);
    g_autofree char *why = NULL;

    if (!harvest_ask(&harvest, self->world, self->plan->days))
        return cli_fault(EXIT_IO, "osierd", "", "%s", self->link.problem);
    child_stop(self->child);
    int code = child_code(self->child);
    if (code != 0) return cli_fault(EXIT_IO, "osierd", "", "ended with %d", code);
    bool good = harvest_ledger(&harvest, &self->loop, store, self->plan->out, &why) &&
                harvest_write(&harvest, self->world, self->plan->out, self->end_ms, &why);
    if (good) {
        g_autofree char *bytes = NULL;
        gsize length;
        g_autoptr(GError) error = NULL;
        good = g_file_get_contents(store, &bytes, &length, &error) &&
               g_file_set_contents(kept, bytes, (gssize)length, &error);
        if (!good) why = g_strdup(error->message);
    }
    if (good && !self->plan->quiet)
        progress_report(&harvest, self->world, self->plan->out, self->end_ms);
    harvest_clear(&harvest);
    return good ? EXIT_OK : cli_fault(EXIT_IO, "rehearse", self->plan->out, "%s", why);
}

static int rehearse(Rehearsal *self)
{
    int code = open_servers(self);

    if (code == EXIT_OK) code = copy_clinic(self);
    if (code != EXIT_OK) return code;
    self->link = (Link){.loop = &self->loop, .net = self->net, .socket = self->socket};
    self->world = world_new(&(WorldPlan){.loop = &self->loop,
                                         .folder = self->folder,
                                         .link = &self->link,
                                         .seed = (uint64_t)self->plan->seed,
                                         .from = self->plan->from,
                                         .start_ms = self->start_ms,
                                         .end_ms = self->end_ms,
                                         .hooks_port = self->places.hooks});
    code = start_child(self);
    if (code != EXIT_OK) return code;
    self->progress =
        progress_new(self->plan->quiet, self->folder->clinic, self->plan->from, self->plan->days);
    if (!enrol_all(self->world) || !live(self))
        return cli_fault(EXIT_IO, "osierd", "", "%s",
                         self->link.problem != NULL ? self->link.problem : "gave up");
    return harvest_all(self);
}

static void release(Rehearsal *self)
{
    if (self->child != NULL && child_runs(self->child)) child_stop(self->child);
    child_free(self->child);
    progress_free(self->progress);
    if (self->gateway != NULL) self->gateway->close(self->gateway);
    post_office_close(self->office);
    uv_close((uv_handle_t *)&self->pause, NULL);
    if (self->net != NULL) self->net->close(self->net);
    uv_run(&self->loop, UV_RUN_DEFAULT);
    world_free(self->world);
    clinic_folder_free(self->folder);
    g_free(self->link.problem);
    g_free(self->socket);
    uv_loop_close(&self->loop);
    if (self->work != NULL) remove_tree(self->work);
    g_free(self->work);
}

int rehearsal_run(const RehearsalPlan *plan)
{
    int code = make_out(plan->out);
    Rehearsal *self;

    if (code != EXIT_OK) return code;
    mail_start();
    self = g_new0(Rehearsal, 1);
    self->plan = plan;
    /* From early in the first morning to late in the last evening, by universal time. */
    self->start_ms = plan->from * DAY_MS + START_HOUR * HOUR_MS;
    self->end_ms = (int64_t)(plan->from + plan->days - 1) * DAY_MS + EVENING_HOUR * HOUR_MS;
    uv_loop_init(&self->loop);
    uv_timer_init(&self->loop, &self->pause);
    code = rehearse(self);
    release(self);
    g_free(self);
    return code;
}
