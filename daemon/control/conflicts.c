/* SPDX-License-Identifier: Apache-2.0 */
/* What two people set differently without seeing each other's: the later counts, the other is kept until a person has said which
 * it is to be. An author has seen what lies before the event that the own one names as its base; from that base, its author's,
 * and so on. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/course.h"

#define SHOWN_MOST 200
#define STEPS_MOST 200

typedef struct {
    char *id; /* of the event */
    char *replica;
    char *author;
    char *base;
    char *subject; /* as it was written: one of the client's ids */
    int64_t seq;
    int64_t wall;
    int64_t logical;
} Written;

static void written_free(Written *written)
{
    if (written == NULL) return;
    g_free(written->id);
    g_free(written->replica);
    g_free(written->author);
    g_free(written->base);
    g_free(written->subject);
    g_free(written);
}
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Written, written_free)

static bool keep_event(const Event *event, void *context)
{
    *(Event **)context = event_copy(event);
    return false;
}

/* With the stamp that counts: a laptop whose clock is a year ahead has not written last for a year. */
static Written *event_by(Job *job, const char *replica, int64_t seq)
{
    g_autoptr(Event) event = NULL;
    Written *written = NULL;

    tx_events(job->tx, "replica = ?1 AND seq = ?2", keep_event, &event, "ti", replica, seq);
    if (event == NULL) return NULL;
    Event seen = tx_seen(job->tx, event);
    written = g_new0(Written, 1);
    *written = (Written){.id = event_id(event),
                         .replica = g_strdup(event->replica),
                         .author = g_strdup(event->author),
                         .base = g_strdup(event->base),
                         .subject = g_strdup(event->subject),
                         .seq = event->seq,
                         .wall = seen.wall,
                         .logical = seen.logical};
    return written;
}

static Written *event_named(Job *job, const char *id)
{
    const char *colon = id != NULL ? strchr(id, ':') : NULL;

    if (colon == NULL) return NULL;
    g_autofree char *replica = g_strndup(id, (gsize)(colon - id));
    return event_by(job, replica, g_ascii_strtoll(colon + 1, NULL, 10));
}

static bool is_before(const Written *one, const Written *other)
{
    if (one->wall != other->wall) return one->wall < other->wall;
    if (one->logical != other->logical) return one->logical < other->logical;
    return strcmp(one->replica, other->replica) < 0;
}

/* Did that replica say before that the client's ids are one client's? */
static bool joined_before(Job *job, const Written *at)
{
    g_autoptr(GPtrArray) rows = tx_rows(job->tx, TABLE_SAME, "", "");

    for (guint i = 0; i < rows->len; i++) {
        g_autoptr(Written) join = event_named(job, row_text(rows->pdata[i], SAME_ID));
        g_autofree char *one = g_strdup(tx_one(job->tx, at->subject));
        if (join != NULL && strcmp(join->replica, at->replica) == 0 && join->seq < at->seq &&
            strcmp(tx_one(job->tx, join->subject), one) == 0)
            return true;
    }
    return false;
}

/* Whoever writes on one replica has what was written there before; but of a client entered twice only what is under that id. */
static bool written_beside(Job *job, const Written *at, const Written *loser)
{
    return strcmp(at->replica, loser->replica) == 0 &&
           (strcmp(at->subject, loser->subject) == 0 || joined_before(job, at));
}

/* Had the author of the winner, or of what that builds upon, seen the loser? */
static bool was_seen(Job *job, const Written *loser, const char *replica, int64_t seq)
{
    g_autoptr(Written) at = event_by(job, replica, seq);

    for (int i = 0; i < STEPS_MOST && at != NULL; i++) {
        if (written_beside(job, at, loser)) return true;
        g_autoptr(Written) base = event_named(job, at->base);
        if (base == NULL || is_before(base, loser)) return false;
        if (strcmp(base->id, loser->id) == 0) return true;
        written_free(at);
        at = g_steal_pointer(&base);
    }
    return true;
}

typedef struct {
    const char *lost;
    const char *field;
    bool found;
} Settled;

/* One event may lose in several fields, and each is settled by itself. */
static bool sets(const Event *event, const json_t *body, const char *field)
{
    const json_t *fields = json_object_get(body, "fields");
    bool plan = g_str_has_prefix(field, "plan.");

    if (plan != (strcmp(event->kind, "plan.set") == 0)) return false;
    return json_object_get(fields, plan ? field + strlen("plan.") : field) != NULL;
}

static bool look_for(const Event *event, void *context)
{
    Settled *settled = context;
    json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;
    size_t i;
    json_t *item;

    json_array_foreach(json_object_get(body, "settles"), i, item)
    {
        settled->found |= g_strcmp0(json_string_value(item), settled->lost) == 0 &&
                          sets(event, body, settled->field);
    }
    json_decref(body);
    return !settled->found;
}

static bool is_settled(Job *job, const char *subject, const char *lost, const char *field)
{
    Settled settled = {.lost = lost, .field = field};

    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, subject);
    for (guint i = 0; i < ids->len && !settled.found; i++)
        tx_events(job->tx,
                  "subject = ?1 AND kind IN ('client.set', 'plan.set') AND body LIKE '%settles%'",
                  look_for, &settled, "t", (char *)ids->pdata[i]);
    return settled.found;
}

/* --- candidates ---------------------------------------------------------------------------------- */

typedef struct {
    char *subject, *field, *lost_value, *value, *replica, *lost_replica;
    int64_t seq, lost_seq;
} Pair;

static void pair_free(gpointer data)
{
    Pair *pair = data;

    g_free(pair->subject);
    g_free(pair->field);
    g_free(pair->lost_value);
    g_free(pair->value);
    g_free(pair->replica);
    g_free(pair->lost_replica);
    g_free(pair);
}

static void keep_pair(const TxResult *result, void *context)
{
    Pair *pair = g_new0(Pair, 1);

    *pair = (Pair){.subject = g_strdup(result->text[0]),
                   .field = g_strdup(result->text[1]),
                   .lost_value = g_strdup(result->text[2]),
                   .value = g_strdup(result->text[3]),
                   .replica = g_strdup(result->text[4]),
                   .seq = result->integer[5],
                   .lost_replica = g_strdup(result->text[6]),
                   .lost_seq = result->integer[7]};
    g_ptr_array_add(context, pair);
}

/* Where one replica wrote everything there are none, but of a client who was entered twice. */
static GPtrArray *candidates(Job *job)
{
    g_autoptr(GArray) vector = tx_vector(job->tx);
    g_autoptr(GPtrArray) joined = tx_rows(job->tx, TABLE_SAME, "LIMIT 1", "");
    GPtrArray *pairs = g_ptr_array_new_with_free_func(pair_free);

    if (vector->len > 1 || joined->len > 0)
        tx_select(
            job->tx,
            "SELECT l.subject, l.field, l.value, s.value, s.replica, s.seq, l.replica, l.seq "
            "FROM setting_lost l JOIN setting s ON s.subject = l.subject AND s.field = l.field "
            "WHERE l.subject <> 'clinic' AND l.field NOT LIKE 'replica.%' AND "
            "l.value IS DISTINCT FROM s.value AND (EXISTS (SELECT 1 FROM setting_lost o WHERE "
            "o.subject = l.subject AND o.field = l.field AND o.replica <> s.replica) OR l.subject "
            "IN (SELECT client FROM same UNION SELECT same_as FROM same)) "
            "ORDER BY l.subject, l.field, l.wall, l.logical, l.replica",
            keep_pair, pairs, "");
    return pairs;
}

static json_t *side(const Written *written, const char *value)
{
    return json_pack("{s:o, s:s, s:o, s:s, s:s}", "value", json_parsed(value), "by",
                     written->author, "at", json_instant(written->wall), "replica",
                     written->replica, "event", written->id);
}

/* NULL where the pair is no conflict. */
static json_t *judge(Job *job, const Pair *pair)
{
    g_autoptr(Written) loser = event_by(job, pair->lost_replica, pair->lost_seq);
    g_autoptr(Written) winner = event_by(job, pair->replica, pair->seq);

    if (loser == NULL || winner == NULL || strcmp(loser->author, "osier") == 0 ||
        was_seen(job, loser, pair->replica, pair->seq) ||
        is_settled(job, pair->subject, loser->id, pair->field))
        return NULL;
    g_autofree char *name = find_setting(job->tx, pair->subject, "name");
    return json_pack("{s:s, s:s, s:o, s:s, s:o, s:o}", "conflict", loser->id, "client",
                     pair->subject, "name", json_parsed(name), "field", pair->field, "counts",
                     side(winner, pair->value), "other", side(loser, pair->lost_value));
}

static json_t *conflicts(Job *job, size_t most)
{
    g_autoptr(GPtrArray) pairs = candidates(job);
    json_t *list = json_array();

    for (guint i = 0; i < pairs->len && json_array_size(list) < most; i++) {
        json_t *conflict = judge(job, pairs->pdata[i]);
        if (conflict != NULL) json_array_append_new(list, conflict);
    }
    return list;
}

json_t *conflicts_of(Job *job, const char *client)
{
    json_t *all = conflicts(job, SIZE_MAX), *its = json_array();
    size_t i;
    json_t *conflict;

    json_array_foreach(all, i, conflict)
    {
        if (g_strcmp0(json_string_value(json_object_get(conflict, "client")), client) == 0)
            json_array_append(its, conflict);
    }
    json_decref(all);
    return its;
}

int conflicts_count(Job *job)
{
    json_t *list = conflicts(job, SHOWN_MOST);
    int n = (int)json_array_size(list);

    json_decref(list);
    return n;
}

bool handle_conflict_list(Job *job, Call *call)
{
    return call_ok(call, conflicts(job, SHOWN_MOST));
}

/* --- settling -------------------------------------------------------------------------------------- */

/* The one conflict whose id and field are meant; NULL after answering. A new reference. */
static json_t *find_conflict(Job *job, Call *call)
{
    const char *id = call->id[0];
    const char *field = call_text(call, "field");
    json_t *list = conflicts(job, SIZE_MAX);
    json_t *found = NULL;
    size_t i;
    json_t *item;
    int n = 0;

    json_array_foreach(list, i, item)
    {
        const char *its = json_string_value(json_object_get(item, "field"));
        if (strcmp(json_string_value(json_object_get(item, "conflict")), id) != 0 ||
            (field != NULL && strcmp(field, its) != 0))
            continue;
        found = item;
        n++;
    }
    json_incref(found);
    json_decref(list);
    if (n == 1) return found;
    json_decref(found);
    call_fail(call, EXIT_NO_SUCH, "conflict", id,
              n == 0 ? "there is none of that id, or it was settled"
                     : "is about several fields; name one with --field");
    return NULL;
}

static void write_choice(Job *job, const json_t *conflict, const char *side_name, const char *by)
{
    const char *client = json_string_value(json_object_get(conflict, "client"));
    const char *field = json_string_value(json_object_get(conflict, "field"));
    bool plan = g_str_has_prefix(field, "plan.");
    g_autofree char *base = find_setting_base(job->tx, client);
    json_t *value = json_object_get(json_object_get(conflict, side_name), "value");

    tx_append(job->tx, plan ? "plan.set" : "client.set", client, by, base,
              json_pack("{s:{s:O}, s:[O]}", "fields", plan ? field + strlen("plan.") : field, value,
                        "settles", json_object_get(conflict, "conflict")));
    g_autoptr(Person) person = person_load(job, client);
    if (person == NULL || !job->sender) return;
    schedule_next(job, person, job->now_ms - 1);
    course_next(job, person);
}

bool handle_conflict_settle(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME, who decides");
    const char *take =
        by != NULL ? call_need(call, "take", "counts or other: which it is to be") : NULL;
    json_t *conflict = NULL;

    if (take == NULL || !call_clinician(call, "settling a conflict")) return false;
    if (strcmp(take, "counts") != 0 && strcmp(take, "other") != 0)
        return call_fail(call, EXIT_USE, "take", take, "is counts or other");
    conflict = find_conflict(job, call);
    if (conflict == NULL) return false;
    write_choice(job, conflict, take, by);
    return call_ok(call, conflict);
}
