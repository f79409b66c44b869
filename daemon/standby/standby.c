/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/standby/standby.h"

#include <jansson.h>
#include <string.h>

#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"
#include "daemon/standby/lease.h"

#define TURN_MS 1000

struct Standby {
    uv_work_t work; /* a look waits for the server, so it is done off the loop */
    uv_timer_t timer;
    SchemaWatch *watch;
    char *schema;
    Log *log;
    Lease lease;
    StandbyOver *over;
    void *context;
    SchemaLook looked; /* the look's own, while it is under way */
    char *looked_why;
    bool told; /* what was seen last stands in the log */
    SchemaLook seen;
    char *why; /* of what was seen last, or NULL */
    bool looking;
    bool closing, closed;
};

static const char *name_of(SchemaLook seen)
{
    static const char *const NAMES[] = {
        [SCHEMA_HELD] = "held", [SCHEMA_FREE] = "free", [SCHEMA_UNSEEN] = "unseen"};

    return NAMES[seen];
}

/* --- the end --- */

static void standby_free(Standby *standby)
{
    schema_watch_free(standby->watch);
    g_free(standby->schema);
    g_free(standby->looked_why);
    g_free(standby->why);
    g_free(standby);
}

static void on_closed(uv_handle_t *handle)
{
    Standby *standby = handle->data;

    standby->closed = true;
    if (!standby->looking) standby_free(standby);
}

void standby_close(Standby *standby)
{
    if (standby == NULL) return;
    standby->closing = true;
    uv_close((uv_handle_t *)&standby->timer, on_closed);
}

/* --- looking --- */

static void look(uv_work_t *work)
{
    Standby *standby = work->data;

    standby->looked = schema_watch_look(standby->watch, &standby->looked_why);
}

/* Each change is told once. */
static void note(Standby *standby)
{
    bool news = !standby->told || standby->seen != standby->looked ||
                g_strcmp0(standby->why, standby->looked_why) != 0;

    standby->told = true;
    standby->seen = standby->looked;
    g_free(standby->why);
    standby->why = g_steal_pointer(&standby->looked_why);
    if (news)
        log_line(standby->log, standby->seen == SCHEMA_UNSEEN ? LOG_WARNINGS : LOG_PLAIN,
                 "standby.sees", "schema", name_of(standby->seen), "why", standby->why, NULL);
}

static void begin(uv_timer_t *timer);

static void take_in(Standby *standby, uv_loop_t *loop)
{
    note(standby);
    if (lease_note(&standby->lease, standby->seen, (int64_t)uv_now(loop)))
        standby->over(standby->context);
    else
        uv_timer_start(&standby->timer, begin, TURN_MS, 0);
}

static void looked(uv_work_t *work, int status)
{
    Standby *standby = work->data;

    (void)status;
    standby->looking = false;
    if (standby->closed)
        standby_free(standby);
    else if (!standby->closing)
        take_in(standby, work->loop);
}

static void begin(uv_timer_t *timer)
{
    Standby *standby = timer->data;

    standby->looking = true;
    uv_queue_work(timer->loop, &standby->work, look, looked);
}

Standby *standby_new(uv_loop_t *loop, const PostgresPlace *place, Log *log, int64_t lease_ms,
                     StandbyOver *over, void *context)
{
    Standby *standby = g_new0(Standby, 1);

    standby->watch = schema_watch_new(place);
    standby->schema = g_strdup(place->schema);
    standby->log = log;
    standby->lease = (Lease){.length_ms = lease_ms, .free_since_ms = LEASE_NOT_FREE};
    standby->over = over;
    standby->context = context;
    standby->work.data = standby->timer.data = standby;
    uv_timer_init(loop, &standby->timer);
    begin(&standby->timer);
    return standby;
}

/* --- what it says --- */

void standby_answer(const Standby *standby, ServeRequest *request)
{
    g_autofree char *why = NULL;

    if (strcmp(serve_path(request), "/healthz") == 0) {
        json_t *document = json_pack("{s:s, s:s, s:s?}", "state", "stands by", "schema",
                                     name_of(standby->seen), "why", standby->why);
        answer_document(request, standby->seen == SCHEMA_UNSEEN ? 503 : 200, document);
        json_decref(document);
        return;
    }
    why = !standby->told ? g_strdup("stands by, and has just begun to look at the server")
          : standby->why != NULL
              ? g_strdup_printf("stands by, and could not take over now: %s", standby->why)
          : standby->seen == SCHEMA_FREE
              ? g_strdup("stands by, and takes over within half a minute: nobody works on it")
              : g_strdup("stands by: another osierd works on it; ask that one");
    answer_fault(request, 503, EXIT_LATER, "osierd", standby->schema, why);
}
