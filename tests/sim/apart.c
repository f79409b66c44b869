/* SPDX-License-Identifier: Apache-2.0 */
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/net/net_memory.h"
#include "adapters/peer/parcel.h"
#include "adapters/serve/serve_memory.h"
#include "adapters/store/store_memory.h"
#include "daemon/control/control.h"
#include "daemon/desk/sender.h"
#include "daemon/sync/merge.h"
#include "tests/sim/apart_inside.h"

#define MORNING INT64_C(1772438400000) /* 2026-03-02T08:00:00Z */
#define STEPS 24
#define LATE_MOST 12
#define ROUNDS_MOST 40
#define TURNS_MOST 20000

/* --- a replica --- */

static WireResponse *answer(const WireRequest *request, void *context)
{
    Replica *replica = context;

    replica->apart->writing = replica->number;
    return standin_answer(request, replica->apart->standin);
}

static int64_t wall(void *context)
{
    return clock_now(((Replica *)context)->clock);
}

static void on_failed(StoreStatus status, const char *problem, void *context)
{
    (void)status;
    trace_break(((Replica *)context)->apart->trace, "the store does not fail by itself", "%s",
                problem);
}

static bool join_job(Job *job, void *context)
{
    (void)context;
    sender_join(job->tx);
    return true;
}

static void start(Replica *replica)
{
    const ServeLimits limits = {.body_max = 1024 * 1024, .connections_max = 64};
    Apart *apart = replica->apart;
    int64_t now_ms = apart->now_ms + replica->ahead_ms;

    replica->id = g_strdup_printf("%015x%x", 0xabc, replica->number + 1);
    replica->clock = clock_stepped_new(now_ms);
    replica->chance =
        random_seeded_new(random_number(apart->random, "replica") + (uint64_t)replica->number);
    replica->store = store_memory_new(replica->id, now_ms);
    replica->net = net_memory_new(&(NetMemoryOptions){
        .answer = answer, .context = replica, .wall_ms = wall, .wall_context = replica});
    replica->daemon = daemon_new(&(DaemonPorts){.clock = replica->clock,
                                                .random = replica->chance,
                                                .store = replica->store,
                                                .net = replica->net,
                                                .dir = apart->frame->folder},
                                 apart->frame->settings, on_failed, replica);
    replica->control = serve_memory_new(&limits, control_handle, replica->daemon);
    daemon_start(replica->daemon);
    apart_settle(replica);
    if (replica->number > 0) apart_job(replica, join_job, NULL);
}

static void end(Replica *replica)
{
    daemon_stop(replica->daemon);
    apart_settle(replica);
    replica->net->close(replica->net);
    while (store_memory_pump(replica->store) > 0)
        continue;
    replica->control->close(replica->control);
    daemon_free(replica->daemon);
    replica->store->close(replica->store);
    random_free(replica->chance);
    clock_free(replica->clock);
    g_free(replica->id);
}

void apart_settle(Replica *replica)
{
    int turns = 0;

    while (store_memory_pump(replica->store) + net_memory_pump(replica->net) > 0)
        if (++turns > TURNS_MOST) {
            trace_break(replica->apart->trace, "an idle daemon is quiet", "replica %d",
                        replica->number);
            return;
        }
}

void apart_job(Replica *replica, ApartJob *run, void *context)
{
    desk_submit(daemon_desk(replica->daemon), run, NULL, context);
    apart_settle(replica);
}

typedef struct {
    int status;
    json_t *answer;
} Call1;

static void on_call(const ServeMemoryAnswer *answered, void *context)
{
    Call1 *call = context;
    gsize length;
    const char *bytes = g_bytes_get_data(answered->body, &length);

    call->status = answered->status;
    call->answer = length > 0 ? json_loadb(bytes, length, JSON_DECODE_ANY, NULL) : NULL;
}

json_t *apart_call(Replica *replica, const char *method, const char *path, json_t *body)
{
    g_autofree char *text = body != NULL ? json_dumps(body, JSON_COMPACT) : g_strdup("");
    Call1 call = {0};

    json_decref(body);
    serve_memory_request(replica->control, method, path, NULL, text, strlen(text), on_call, &call);
    apart_settle(replica);
    trace_note(replica->apart->trace, "replica %d: %s %s %s: %d", replica->number, method, path,
               text, call.status);
    if (call.status >= 500 || call.status == 0)
        trace_break(replica->apart->trace, "every call is answered", "%s %s: %d", method, path,
                    call.status);
    if (call.status == 200) {
        replica->apart->tally->calls++;
        return call.answer;
    }
    json_decref(call.answer);
    return NULL;
}

/* --- time --- */

static void move_clock(Replica *replica, int64_t to_ms)
{
    Trace *trace = replica->apart->trace;

    while (!trace_broken(trace)) {
        int64_t next = clock_next(replica->clock);
        if (next > to_ms) break;
        if (next > clock_now(replica->clock)) clock_move(replica->clock, next);
        clock_fire(replica->clock);
        apart_settle(replica);
    }
    if (to_ms > clock_now(replica->clock)) clock_move(replica->clock, to_ms);
}

static void pass_time(Apart *apart, int64_t by_ms)
{
    apart->now_ms += by_ms;
    trace_step(apart->trace, apart->now_ms);
    for (int i = 0; i < apart->replicas; i++)
        move_clock(&apart->replica[i], apart->now_ms + apart->replica[i].ahead_ms);
}

/* --- the line --- */

typedef struct {
    Replica *replica;
    Parcel *asked; /* what the other side has */
    GBytes *bytes;
    int limit;
    bool news;
} Line;

static bool ask_job(Job *job, void *context)
{
    Line *line = context;

    line->asked = merge_parcel(job);
    return true;
}

static bool give_job(Job *job, void *context)
{
    Line *line = context;
    g_autoptr(Parcel) parcel = merge_parcel(job);

    merge_give(job, line->asked->vector, parcel, line->limit);
    line->news = parcel->events->len > 0;
    line->bytes = parcel_pack(parcel);
    return true;
}

static bool take_job(Job *job, void *context)
{
    Line *line = context;
    const char *why = NULL;
    g_autoptr(Parcel) parcel = parcel_unpack(line->bytes, &why);

    if (parcel == NULL) {
        trace_break(line->replica->apart->trace, "a parcel is what was packed", "%s", why);
        return false;
    }
    if (strcmp(parcel->replica, tx_replica(job->tx)) == 0) return true; /* its own, late */
    g_autofree char *forked = merge_take(job, parcel);
    if (forked != NULL)
        trace_break(line->replica->apart->trace, "no chain parts from itself", "%s", forked);
    return true;
}

static void deliver(Replica *to, GBytes *bytes)
{
    Line line = {.replica = to, .bytes = bytes};

    apart_job(to, take_job, &line);
    to->apart->tally->visits++;
}

/* Comes once more later, or only then. */
static void keep_late(Apart *apart, GBytes *bytes)
{
    if (apart->late->len >= LATE_MOST) g_ptr_array_remove_index(apart->late, 0);
    g_ptr_array_add(apart->late, g_bytes_ref(bytes));
}

/* One parcel from one to the other, at most limit events of it. Was there anything to give? */
static bool carry(Replica *from, Replica *to, int limit, bool lossy)
{
    Line line = {.replica = to, .limit = limit};

    apart_job(to, ask_job, &line);
    line.replica = from;
    apart_job(from, give_job, &line);
    parcel_free(line.asked);
    trace_note(from->apart->trace, "a parcel from %d to %d", from->number, to->number);
    bool lost = lossy && apart_draw(from->apart, 5) == 0;
    if (lossy && apart_draw(from->apart, 3) == 0) keep_late(from->apart, line.bytes);
    if (!lost) deliver(to, line.bytes);
    g_bytes_unref(line.bytes);
    return line.news;
}

static bool in_reach(const Replica *replica)
{
    return replica->apart->now_ms >= replica->back_ms;
}

static void meet(Apart *apart)
{
    Replica *one = &apart->replica[apart_draw(apart, (uint64_t)apart->replicas)];
    Replica *other = &apart->replica[apart_draw(apart, (uint64_t)apart->replicas)];

    if (one == other || !in_reach(one) || !in_reach(other)) return;
    for (uint64_t i = 0; i < 1 + apart_draw(apart, 3); i++) {
        carry(one, other, 1 + (int)apart_draw(apart, 20), true);
        if (apart_draw(apart, 2) == 0) carry(other, one, 1 + (int)apart_draw(apart, 20), true);
    }
    if (apart->late->len > 0 && apart_draw(apart, 2) == 0)
        deliver(one, apart->late->pdata[apart_draw(apart, apart->late->len)]);
}

/* --- a history --- */

static void begin(Apart *apart, uint64_t seed, bool loud)
{
    g_autofree char *erasures = g_build_filename(apart->frame->folder, "erased.jsonl", NULL);

    g_unlink(erasures);
    apart->trace = trace_new(seed);
    trace_set_loud(apart->trace, loud);
    apart->random = random_seeded_new(seed);
    apart->standin = standin_new(apart->trace, apart->random, false);
    standin_watch(apart->standin, apart_written, NULL, apart);
    apart->late = g_ptr_array_new_with_free_func((GDestroyNotify)g_bytes_unref);
    apart->people = g_ptr_array_new_with_free_func(g_free);
    apart->now_ms = MORNING;
    apart->replicas = 2 + (int)apart_draw(apart, REPLICAS_MOST - 1);
    for (int i = 0; i < apart->replicas; i++) {
        Replica *replica = &apart->replica[i];
        *replica = (Replica){.apart = apart, .number = i};
        if (apart_draw(apart, 4) == 0)
            replica->ahead_ms = ((int64_t)apart_draw(apart, 49) - 24) * 3600000;
        if (i > 0 && apart_draw(apart, 6) == 0)
            replica->back_ms = MORNING + (int64_t)apart_draw(apart, 120) * APART_DAY_MS;
        start(replica);
    }
}

static void live(Apart *apart)
{
    for (int step = 0; step < STEPS && !trace_broken(apart->trace); step++) {
        apart_work(&apart->replica[apart_draw(apart, (uint64_t)apart->replicas)]);
        if (apart_draw(apart, 2) == 0) meet(apart);
        if (apart_draw(apart, 3) == 0)
            pass_time(apart, (int64_t)(1 + apart_draw(apart, 600)) * 60000);
        if (apart_draw(apart, 40) == 0) pass_time(apart, 20 * APART_DAY_MS);
    }
}

/* Every line is whole; what one round makes travels in the next. */
static void heal(Apart *apart)
{
    for (int round = 0; round < ROUNDS_MOST && !trace_broken(apart->trace); round++) {
        bool news = false;
        for (int i = 0; i < apart->replicas; i++)
            for (int k = 0; k < apart->replicas; k++)
                if (i != k)
                    news = carry(&apart->replica[i], &apart->replica[k], 500, false) || news;
        if (!news) return;
    }
    trace_break(apart->trace, "healing comes to an end", "not in %d rounds", ROUNDS_MOST);
}

static void finish(Apart *apart)
{
    for (int i = 0; i < apart->replicas; i++)
        end(&apart->replica[i]);
    standin_watch(apart->standin, NULL, NULL, NULL);
    standin_free(apart->standin);
    random_free(apart->random);
    g_ptr_array_unref(apart->late);
    g_ptr_array_unref(apart->people);
    trace_free(apart->trace);
}

bool apart_run(Apart *apart, uint64_t seed, bool loud, ApartTally *tally)
{
    apart->tally = tally;
    begin(apart, seed, loud);
    live(apart);
    heal(apart);
    if (!trace_broken(apart->trace)) apart_judge(apart);
    pass_time(apart, 2 * APART_DAY_MS); /* under the rules on what leaves */
    bool held = !trace_broken(apart->trace);
    tally->histories++;
    finish(apart);
    return held;
}

Apart *apart_new(void)
{
    Apart *apart = g_new0(Apart, 1);

    apart->frame = sim_clinic_new(&(SimSetup){.seed = 1, .start_ms = MORNING, .poll_every = "12h"});
    return apart;
}

void apart_free(Apart *apart)
{
    sim_clinic_free(apart->frame);
    g_free(apart);
}
