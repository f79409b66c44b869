/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/daemon.h"

#include <stdlib.h>

#include "core/wire/message.h"
#include "daemon/jobs/away.h"
#include "daemon/jobs/clock_back.h"
#include "daemon/jobs/digest.h"
#include "daemon/jobs/erase.h"
#include "daemon/jobs/keep.h"

/* A gap shorter than this is a restart, not an absence. */
#define AWAY_WORTH_MS (10 * MINUTE_MS)
#define ALIVE_EVERY_MS (10 * MINUTE_MS)
#define JUMP_WORTH_MS MINUTE_MS

struct Daemon {
    Desk *desk;
    Net *net;
    Planner *planner;
    Relay *relay;
    Intake *intake;
    Keep *keep;
    Painter *painter;
    Vault *vault;
    Stepper *stepper;
    Timer *alive;
    DeskFailed *failed;
    void *failed_context;
    DaemonTold *moved;
    DaemonTold *accounts;
    void *told_context;
    struct Sync *sync;
    void (*grown)(struct Sync *sync);
    void (*erased)(struct Sync *sync);
    int64_t moves;
    bool started;
    bool stopping;
    bool noted;   /* the start is written down */
    bool deaf;    /* another replica listens to the gateways */
    GQueue jumps; /* of Jump: of the clock, that found no room in the store */
};

static void on_failed(StoreStatus status, const char *problem, void *context)
{
    Daemon *daemon = context;

    if (daemon->failed != NULL) daemon->failed(status, problem, daemon->failed_context);
}

/* --- being there --- */

static void note_alive(Job *job)
{
    g_autofree char *now = g_strdup_printf("%" G_GINT64_FORMAT, job->now_ms);

    tx_set_meta(job->tx, "alive_at", now);
}

static bool start_job(Job *job, void *context)
{
    g_autofree char *last = tx_meta(job->tx, "alive_at");
    int64_t last_ms = last != NULL ? g_ascii_strtoll(last, NULL, 10) : job->now_ms;

    (void)context;
    /* Another folder may be made to stand by, and needs the same. */
    if (job->clinic->store_schema != NULL) vault_have_key(job->vault);
    erase_again(job);
    if (job->now_ms - last_ms > AWAY_WORTH_MS)
        away_note(job, last_ms, job->now_ms, MINUTE_MS, "osierd was not running");
    if (last_ms - job->now_ms >= JUMP_WORTH_MS) clock_set_back(job, last_ms - job->now_ms);
    clock_bound_waits(job); /* without room, what was alive last may not have been noted */
    note_alive(job);
    digest_schedule(job);
    keep_schedule(job);
    keep_looks(job, last_ms);
    return true;
}

static bool reload_job(Job *job, void *context)
{
    (void)context;
    digest_schedule(job);
    keep_schedule(job);
    return true;
}

static bool alive_job(Job *job, void *context)
{
    (void)context;
    note_alive(job);
    return true;
}

/* Under a stopped clock nothing passes unnoticed, so no heartbeat is needed. */
static void on_alive(void *context)
{
    Daemon *daemon = context;
    Clock *clock = desk_clock(daemon->desk);

    if (clock_is_stepped(clock)) return;
    desk_submit(daemon->desk, alive_job, NULL, NULL);
    timer_set(daemon->alive, clock_now(clock) + ALIVE_EVERY_MS);
}

static void noted(StoreStatus status, void *context)
{
    Daemon *daemon = context;

    daemon->noted = status == STORE_OK;
}

typedef struct {
    Daemon *daemon;
    int64_t from_ms;
    int64_t to_ms;
} Jump;

static bool jump_job(Job *job, void *context)
{
    const Jump *jump = context;

    tx_append(
        job->tx, "clock.jumped", "clinic", "osier", NULL,
        json_pack("{s:I, s:I}", "from", (json_int_t)jump->from_ms, "to", (json_int_t)jump->to_ms));
    if (jump->to_ms < jump->from_ms) clock_set_back(job, jump->from_ms - jump->to_ms);
    return true;
}

static void jump_done(StoreStatus status, void *context)
{
    Jump *jump = context;

    if (store_passes(status))
        g_queue_push_tail(&jump->daemon->jumps, jump);
    else
        g_free(jump);
}

/* There is room on the device again: what found none is done now. */
static void catch_up(Daemon *daemon)
{
    Jump *jump;

    if (!daemon->started) return;
    while ((jump = g_queue_pop_head(&daemon->jumps)) != NULL)
        desk_submit(daemon->desk, jump_job, jump_done, jump);
    if (!daemon->noted) desk_submit(daemon->desk, start_job, noted, daemon);
    keep_renew(daemon->keep);
    relay_again(daemon->relay);
    intake_again(daemon->intake);
    daemon_accounts_changed(daemon); /* they may have changed meanwhile without being read */
}

/* The duty to send came here or went. */
static void listen_or_not(Daemon *daemon, bool sender)
{
    if (!daemon->started || daemon->deaf == !sender) return;
    daemon->deaf = !sender;
    if (sender)
        intake_start(daemon->intake);
    else
        intake_stop(daemon->intake);
}

static void on_changed(const DeskNext *next, void *context)
{
    Daemon *daemon = context;

    if (next->again) catch_up(daemon);
    listen_or_not(daemon, next->sender);
    planner_next(daemon->planner, next->due_ms);
    if (next->erased) keep_renew(daemon->keep);
    if (next->erased && daemon->sync != NULL) daemon->erased(daemon->sync);
    if (next->barred != NULL) relay_recall(daemon->relay, next->barred);
    relay_next(daemon->relay, next->send_ms[CHANNEL_SMS], next->send_ms[CHANNEL_EMAIL],
               next->posted);
    if (next->moves == daemon->moves) return;
    daemon->moves = next->moves;
    if (daemon->moved != NULL) daemon->moved(daemon->told_context);
    if (daemon->sync != NULL) daemon->grown(daemon->sync);
}

void daemon_tell(Daemon *daemon, DaemonTold *moved, DaemonTold *accounts, void *context)
{
    daemon->moved = moved;
    daemon->accounts = accounts;
    daemon->told_context = context;
}

void daemon_set_sync(Daemon *daemon, struct Sync *sync, void (*grown)(struct Sync *sync),
                     void (*erased)(struct Sync *sync))
{
    daemon->sync = sync;
    daemon->grown = grown;
    daemon->erased = erased;
}

struct Sync *daemon_sync(Daemon *daemon)
{
    return daemon->sync;
}

void daemon_accounts_changed(Daemon *daemon)
{
    if (daemon->accounts != NULL) daemon->accounts(daemon->told_context);
}

static void on_heard(bool unreachable, void *context)
{
    relay_note(((Daemon *)context)->relay, unreachable);
}

static void on_back(void *context)
{
    intake_back(((Daemon *)context)->intake);
}

static bool is_cut_off(void *context)
{
    return relay_is_cut_off(((Daemon *)context)->relay);
}

static bool is_blamed(const char *gateway, void *context)
{
    return relay_blames(((Daemon *)context)->relay, gateway);
}

/* --- life --- */

Daemon *daemon_new(const DaemonPorts *ports, Settings *settings, DeskFailed *failed, void *context)
{
    Daemon *daemon = g_new0(Daemon, 1);
    g_autofree char *spool = g_build_filename(ports->dir, "spool", NULL);

    daemon->failed = failed;
    daemon->failed_context = context;
    daemon->net = ports->net;
    daemon->desk = desk_new(ports->store, ports->clock, ports->random, settings);
    daemon->vault = vault_new(ports->dir, ports->random);
    desk_set_vault(daemon->desk, daemon->vault);
    desk_set_log(daemon->desk, ports->log);
    daemon->painter = painter_new(ports->loop);
    daemon->relay = relay_new(daemon->desk, ports->net,
                              &(RelayPlace){.folder = ports->dir,
                                            .spool_dir = spool,
                                            .one_at_a_time = clock_is_stepped(ports->clock),
                                            .loop = ports->loop});
    daemon->intake = intake_new(daemon->desk, ports->net, ports->loop);
    daemon->keep = keep_new(daemon->desk, ports->dir, ports->loop);
    daemon->alive = timer_new(ports->clock, on_alive, daemon);
    intake_watch(daemon->intake, &(IntakeWatch){.heard = on_heard,
                                                .cut_off = is_cut_off,
                                                .blamed = is_blamed,
                                                .context = daemon});
    daemon->planner = planner_new(daemon->desk, daemon->painter, daemon->relay);
    relay_watch(daemon->relay, on_back, daemon);
    desk_watch(daemon->desk, on_changed, on_failed, daemon);
    return daemon;
}

void daemon_start(Daemon *daemon)
{
    daemon->started = true;
    desk_submit(daemon->desk, start_job, noted, daemon);
    relay_start(daemon->relay);
    intake_start(daemon->intake);
    keep_renew(daemon->keep); /* what a stop cut off */
    keep_start(daemon->keep);
    on_alive(daemon);
}

void daemon_stop(Daemon *daemon)
{
    bool was_started = daemon->started;

    daemon->started = false;
    daemon->stopping = true;
    timer_set(daemon->alive, CLOCK_NEVER);
    planner_stop(daemon->planner);
    keep_stop(daemon->keep);
    intake_close(daemon->intake);
    relay_stop(daemon->relay);
    if (was_started) desk_submit(daemon->desk, alive_job, NULL, NULL);
}

bool daemon_is_stopping(const Daemon *daemon)
{
    return daemon->stopping;
}

void daemon_free(Daemon *daemon)
{
    if (daemon == NULL) return;
    timer_free(daemon->alive);
    painter_close(daemon->painter);
    keep_free(daemon->keep);
    intake_free(daemon->intake);
    relay_free(daemon->relay);
    planner_free(daemon->planner);
    desk_free(daemon->desk);
    vault_free(daemon->vault);
    g_queue_clear_full(&daemon->jumps, g_free);
    g_free(daemon);
}

void daemon_reload(Daemon *daemon, Settings *settings)
{
    desk_set_settings(daemon->desk, settings);
    relay_reload(daemon->relay);
    intake_reload(daemon->intake);
    keep_start(daemon->keep);
    desk_submit(daemon->desk, reload_job, NULL, NULL);
}

int daemon_holds(const Daemon *daemon, const char **what)
{
    int jobs = desk_store(daemon->desk)->pending(desk_store(daemon->desk));
    int exchanges = daemon->net->in_flight(daemon->net);
    int relaying = relay_busy(daemon->relay);
    int listening = intake_busy(daemon->intake);
    int keeping = keep_busy(daemon->keep);
    int drawing = painter_busy(daemon->painter);

    *what = jobs > 0        ? "a job on the store"
            : exchanges > 0 ? "an exchange with a gateway"
            : relaying > 0  ? "a message in hand"
            : keeping > 0   ? "a copy being checked"
            : drawing > 0   ? "a drawing"
                            : "a poll";
    return jobs + exchanges + relaying + listening + keeping + drawing;
}

void daemon_clock_jumped(Daemon *daemon, int64_t from_ms, int64_t to_ms)
{
    if (llabs(to_ms - from_ms) < JUMP_WORTH_MS) return;
    Jump *jump = g_new0(Jump, 1);
    *jump = (Jump){.daemon = daemon, .from_ms = from_ms, .to_ms = to_ms};
    desk_submit(daemon->desk, jump_job, jump_done, jump);
}

Desk *daemon_desk(Daemon *daemon)
{
    return daemon->desk;
}

Intake *daemon_intake(Daemon *daemon)
{
    return daemon->intake;
}

Keep *daemon_keep(Daemon *daemon)
{
    return daemon->keep;
}

Painter *daemon_painter(Daemon *daemon)
{
    return daemon->painter;
}

Relay *daemon_relay(Daemon *daemon)
{
    return daemon->relay;
}

void daemon_set_stepper(Daemon *daemon, Stepper *stepper)
{
    daemon->stepper = stepper;
}

Stepper *daemon_stepper(Daemon *daemon)
{
    return daemon->stepper;
}
