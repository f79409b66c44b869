/* SPDX-License-Identifier: Apache-2.0 */
/* Random histories. Pools of names are small, so that events of different replicas meet in one row.
 */
#include "core/ledger/stamp.h"
#include "tests/support/ledger_tables.h"

typedef enum {
    SOME_TEXT,
    SOME_ID,
    SOME_INSTANT,
    SOME_SMALL,
    SOME_REAL,
    SOME_FIELDS,
    SOME_ENDS,
    SOME_FLAG
} Sort;

typedef struct {
    const char *name;
    Sort sort;
    const char *values; /* "|" between; SOME_ID: a pool's letter */
} Part;

#define PARTS_MAX 20

typedef struct {
    const char *kind;
    const char *subjects;
    Part parts[PARTS_MAX];
} Kind;

#define PLACE                                                                                      \
    {"session", SOME_ID, "S"}, {"date", SOME_TEXT, "2026-03-02|2026-03-03"},                       \
        {"slot", SOME_SMALL, NULL}, {"local", SOME_TEXT, "2026-03-02T08:30|2026-03-02T09:00"},     \
        {"zone", SOME_TEXT, "Europe/London"}, {"utc", SOME_INSTANT, NULL},                         \
        {"stage", SOME_TEXT, "calf-1|calf-2"},                                                     \
    {                                                                                              \
        "programme", SOME_TEXT, "h1|h2"                                                            \
    }

static const Kind KINDS[] = {
    {"client.set", "C", {{"fields", SOME_FIELDS, NULL}}},
    {"client.consent",
     "C",
     {{"channel", SOME_TEXT, "sms|email|phone"},
      {"text", SOME_TEXT, "signed|spoken"},
      {"by", SOME_TEXT, "R. Okafor|J. Lindqvist"},
      {"at", SOME_INSTANT, NULL}}},
    {"client.stop",
     "C",
     {{"at", SOME_INSTANT, NULL}, {"why", SOME_TEXT, "STOP"}, {"by", SOME_TEXT, "client"}}},
    {"client.pause",
     "C",
     {{"at", SOME_INSTANT, NULL},
      {"until", SOME_INSTANT, NULL},
      {"why", SOME_TEXT, "away|illness"}}},
    {"client.suspend", "C", {{"at", SOME_INSTANT, NULL}, {"cause", SOME_ID, "R"}}},
    {"client.end", "C", {{"at", SOME_INSTANT, NULL}, {"why", SOME_TEXT, "finished|moved"}}},
    {"client.erase", "C", {{"at", SOME_INSTANT, NULL}, {"by", SOME_TEXT, "R. Okafor"}}},
    {"client.same_as",
     "C",
     {{"of", SOME_ID, "C"}, {"at", SOME_INSTANT, NULL}, {"by", SOME_TEXT, "R. Okafor"}}},
    {"hold.set",
     "C",
     {{"at", SOME_INSTANT, NULL}, {"why", SOME_TEXT, "pain|sign"}, {"cause", SOME_ID, "R"}}},
    {"client.start",
     "C",
     {{"ends", SOME_ENDS, NULL}, {"at", SOME_INSTANT, NULL}, {"by", SOME_TEXT, "client"}}},
    {"client.resume",
     "C",
     {{"ends", SOME_ENDS, NULL}, {"at", SOME_INSTANT, NULL}, {"by", SOME_TEXT, "R. Okafor"}}},
    {"hold.lift",
     "C",
     {{"ends", SOME_ENDS, NULL},
      {"at", SOME_INSTANT, NULL},
      {"by", SOME_TEXT, "R. Okafor|J. Lindqvist"}}},
    {"screen.done",
     "C",
     {{"at", SOME_INSTANT, NULL}, {"floor", SOME_FLAG, NULL}, {"clear", SOME_FLAG, NULL}}},
    {"plan.set", "C", {{"fields", SOME_FIELDS, NULL}}},
    {"plan.move", "C", {{"stage", SOME_TEXT, "calf-1|calf-2"}, {"fields", SOME_FIELDS, NULL}}},
    {"programme.put",
     "P",
     {{"key", SOME_TEXT, "calf|hamstring"}, {"text", SOME_TEXT, "a: 1|b: 2"}}},
    {"session.asked", "C", {PLACE, {"message", SOME_ID, "M"}, {"at", SOME_INSTANT, NULL}}},
    {"session.closed",
     "C",
     {PLACE, {"as", SOME_TEXT, "silent|unasked|excused|odd"}, {"at", SOME_INSTANT, NULL}}},
    {"message.settled",
     "C",
     {{"message", SOME_ID, "M"},
      {"to", SOME_TEXT, "+442079460001|+442079460002"},
      {"kind", SOME_TEXT, "reminder|nudge"},
      {"text", SOME_TEXT, "Time for calves|Calves now"},
      {"at", SOME_INSTANT, NULL},
      {"session", SOME_ID, "S"},
      {"fate", SOME_TEXT, "accepted|delivered|refused|failed|lapsed|unsure"},
      {"fate_at", SOME_INSTANT, NULL},
      {"gateway", SOME_TEXT, "texts|spool"},
      {"gateway_id", SOME_TEXT, "g1|g2"},
      {"segments", SOME_SMALL, NULL},
      {"price", SOME_REAL, NULL},
      {"reason", SOME_TEXT, "expired|unknown number"}}},
    {"reply.received",
     "R",
     {{"gateway", SOME_TEXT, "texts"},
      {"from", SOME_TEXT, "+442079460001|+442079460002"},
      {"text", SOME_TEXT, "did them|no"},
      {"at", SOME_INSTANT, NULL},
      {"arrived", SOME_INSTANT, NULL}}},
    {"reply.read",
     "R",
     {{"client", SOME_ID, "C"},
      {"session", SOME_ID, "S"},
      {"reading", SOME_FIELDS, NULL},
      {"state", SOME_TEXT, "read|unread|command"},
      {"glance", SOME_FLAG, NULL},
      {"why", SOME_TEXT, "words left over"}}},
    {"reply.settled",
     "R",
     {{"by", SOME_TEXT, "R. Okafor|J. Lindqvist"},
      {"client", SOME_ID, "C"},
      {"session", SOME_ID, "S"},
      {"reading", SOME_FIELDS, NULL}}},
    {"reply.seen", "R", {{"by", SOME_TEXT, "R. Okafor|J. Lindqvist"}}},
    {"report.made",
     "C",
     {PLACE,
      {"at", SOME_INSTANT, NULL},
      {"done", SOME_TEXT, "yes|partly|no|maybe"},
      {"intensity", SOME_SMALL, NULL},
      {"pain", SOME_TEXT, "0|4|some"},
      {"reply", SOME_ID, "R"}}},
    {"measure.taken",
     "C",
     {{"at", SOME_INSTANT, NULL},
      {"movement", SOME_TEXT, "leg-raise"},
      {"side", SOME_TEXT, "left|right"},
      {"value", SOME_REAL, NULL},
      {"unit", SOME_TEXT, "deg|cm"}}},
    {"alert.opened",
     "A",
     {{"code", SOME_TEXT, "3F8|77A"},
      {"client", SOME_ID, "C"},
      {"kind", SOME_TEXT, "pain|heart"},
      {"class", SOME_TEXT, "now|today"},
      {"at", SOME_INSTANT, NULL},
      {"reasons", SOME_FIELDS, NULL}}},
    {"alert.passed",
     "A",
     {{"to", SOME_TEXT, "R. Okafor|J. Lindqvist"},
      {"at", SOME_INSTANT, NULL},
      {"round", SOME_SMALL, NULL}}},
    {"alert.taken",
     "A",
     {{"by", SOME_TEXT, "R. Okafor|J. Lindqvist"},
      {"at", SOME_INSTANT, NULL},
      {"via", SOME_TEXT, "text|page"}}},
    {"alert.closed",
     "A",
     {{"by", SOME_TEXT, "R. Okafor|J. Lindqvist"},
      {"at", SOME_INSTANT, NULL},
      {"outcome", SOME_TEXT, "resume|refer"}}},
    {"sender.taken", "K", {{"replica", SOME_TEXT, "aa|bb"}, {"epoch", SOME_SMALL, NULL}}},
    {"sender.away",
     "K",
     {{"from", SOME_INSTANT, NULL}, {"to", SOME_INSTANT, NULL}, {"why", SOME_TEXT, "down"}}},
    {"replica.joined", "N", {{"name", SOME_TEXT, "desk|laptop"}, {"at", SOME_INSTANT, NULL}}},
    {"replica.cut", "N", {{"at", SOME_INSTANT, NULL}}},
    {"digest.sent", "W", {{"at", SOME_INSTANT, NULL}}},
    {"clock.bounded",
     "N",
     {{"first", SOME_SMALL, NULL}, {"last", SOME_SMALL, NULL}, {"wall", SOME_INSTANT, NULL}}},
    {"redacted", "C", {{"also", SOME_ENDS, NULL}}},
    {"from.a.newer.osier", "C", {{"text", SOME_TEXT, "x"}}},
};

static const char *const REPLICAS[] = {"00000000000000aa", "00000000000000bb", "00000000000000cc"};

static char *pick_id(GRand *random, const char *pool)
{
    return strcmp(pool, "K") == 0 ? g_strdup("clinic")
                                  : g_strdup_printf("%s%d", pool, g_rand_int_range(random, 1, 4));
}

static json_t *pick_text(GRand *random, const char *values)
{
    g_auto(GStrv) list = g_strsplit(values, "|", -1);

    return json_string(list[g_rand_int_range(random, 0, (gint32)g_strv_length(list))]);
}

/* Names of settings, with phone and email, whose values become addresses. */
static json_t *pick_fields(GRand *random)
{
    static const char *const NAMES[] = {"name", "phone", "email", "stage", "at"};
    static const char *const VALUES[] = {"one", "two", "", "+442079460001"};
    json_t *fields = json_object();

    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++) {
        if (g_rand_int_range(random, 0, 3) == 0)
            json_object_set_new(fields, NAMES[i],
                                json_string(VALUES[g_rand_int_range(random, 0, 4)]));
        else if (g_rand_int_range(random, 0, 12) == 0)
            json_object_set_new(fields, NAMES[i], json_null());
    }
    return fields;
}

/* Ids of any events: of bars that are to come, of bars set, of what is no bar. */
static json_t *pick_ends(GRand *random, int replicas, int count)
{
    json_t *ends = json_array();

    for (int i = g_rand_int_range(random, 0, 4); i > 0; i--) {
        g_autofree char *id =
            g_strdup_printf("%s:%d", REPLICAS[g_rand_int_range(random, 0, replicas)],
                            g_rand_int_range(random, 1, count / replicas + 2));
        json_array_append_new(ends, json_string(id));
    }
    return ends;
}

static json_t *pick_value(GRand *random, const Part *part, int replicas, int count)
{
    g_autofree char *id = part->sort == SOME_ID ? pick_id(random, part->values) : NULL;

    switch (part->sort) {
    case SOME_TEXT: return pick_text(random, part->values);
    case SOME_ID: return json_string(id);
    case SOME_INSTANT: return json_integer(1000 + g_rand_int_range(random, 0, 6));
    case SOME_SMALL: return json_integer(g_rand_int_range(random, 0, 4));
    case SOME_REAL: return json_real(g_rand_int_range(random, 0, 4) / 8.0);
    case SOME_FIELDS: return pick_fields(random);
    case SOME_ENDS: return pick_ends(random, replicas, count);
    case SOME_FLAG: return json_boolean(g_rand_boolean(random));
    }
    g_assert_not_reached();
}

static char *pick_body(GRand *random, const Kind *kind, int replicas, int count)
{
    json_t *body = json_object();

    for (int i = 0; i < PARTS_MAX && kind->parts[i].name != NULL; i++) {
        int chance = g_rand_int_range(random, 0, 20);

        if (chance == 0)
            json_object_set_new(body, kind->parts[i].name, json_pack("[i]", 7));
        else if (chance > 2)
            json_object_set_new(body, kind->parts[i].name,
                                pick_value(random, &kind->parts[i], replicas, count));
    }
    char *text = json_dumps(body, JSON_SORT_KEYS | JSON_COMPACT);
    char *copy = g_strdup(text);
    free(text);
    json_decref(body);
    return copy;
}

GPtrArray *ledger_history(GRand *random, int replicas, int count)
{
    GPtrArray *events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free);
    Stamp clocks[G_N_ELEMENTS(REPLICAS)] = {0};
    int64_t seqs[G_N_ELEMENTS(REPLICAS)] = {0};
    int64_t now = 1000;

    for (int i = 0; i < count; i++, now += g_rand_int_range(random, 0, 2)) {
        int at = g_rand_int_range(random, 0, replicas);
        const Kind *kind = &KINDS[g_rand_int_range(random, 0, G_N_ELEMENTS(KINDS))];
        g_autofree char *subject = pick_id(random, kind->subjects);
        bool redacted = g_rand_int_range(random, 0, 15) == 0;
        g_autofree char *body = redacted ? NULL : pick_body(random, kind, replicas, count);
        Stamp stamp = stamp_next(&clocks[at], now);
        Event *event =
            ledger_event(REPLICAS[at], ++seqs[at], stamp.wall, kind->kind, subject, body);

        event->logical = stamp.logical;
        g_ptr_array_add(events, event);
    }
    return events;
}

char *ledger_draw(GRand *random, const char **kind, char **subject)
{
    const Kind *drawn = &KINDS[g_rand_int_range(random, 0, G_N_ELEMENTS(KINDS))];

    *kind = drawn->kind;
    *subject = pick_id(random, drawn->subjects);
    return pick_body(random, drawn, (int)G_N_ELEMENTS(REPLICAS), 60);
}
