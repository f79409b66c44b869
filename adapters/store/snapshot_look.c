/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>
#include <sys/stat.h>

#include "adapters/store/snapshot_part.h"
#include "core/ledger/body.h"
#include "core/ledger/chain.h"
#include "core/ledger/pack.h"
#include "core/ledger/plain.h"
#include "core/ledger/stamp.h"

#define SUBJECT_MAX 300
#define AUTHOR_MAX 800
#define BASE_MAX 200
/* Events with an impossible stamp; who has more replays. */
#define WILD_MOST 1000
/* Honest rows come to some ten times their file; to more than so many times it, and so many bytes besides, none do. */
#define SPREAD_TIMES 64
#define SPREAD_BYTES (INT64_C(64) * 1024 * 1024)

/* An event with a stamp that no honest clock gives, or what says that such are seen otherwise. */
typedef struct {
    char replica[17];
    int64_t first, last, wall;
} Span;

typedef struct {
    int64_t now_ms;
    SnapshotLook *told;
    GArray *found; /* vector of what is there */
    size_t heard;
    int64_t left;          /* bytes to which its rows may still come */
    GArray *wild, *bounds; /* of Span */
    const char *why;
} Looking;

/* The chain goes on from its last event, or begins. */
static bool follows(const Looking *looking, const Event *event)
{
    VectorEntry *last = (VectorEntry *)vector_find(looking->found, event->replica);

    if (event->seq != (last != NULL ? last->seq + 1 : 1)) return false;
    if (!chain_holds(event, last != NULL ? last->digest : NULL)) return false;
    if (last == NULL && looking->found->len >= looking->told->vector->len) return false;
    if (last == NULL) {
        vector_add(looking->found, event->replica, event->seq, event->digest);
        return true;
    }
    last->seq = event->seq;
    memcpy(last->digest, event->digest, DIGEST_BYTES);
    return true;
}

static bool is_formed(const Event *event)
{
    Event head = *event;

    head.body = NULL;
    return event_fault(&head) == NULL && strlen(event->subject) <= SUBJECT_MAX &&
           strlen(event->author) <= AUTHOR_MAX &&
           (event->base == NULL || strlen(event->base) <= BASE_MAX) &&
           (event->body == NULL ||
            (strlen(event->body) <= PACK_BODY_MAX && plain_is_object(event->body)));
}

/* Whose words were erased has no salt either; nothing else vouches for it. */
static bool is_salted(const Event *event)
{
    static const uint8_t NONE[SALT_BYTES];

    return event->body != NULL || memcmp(event->salt, NONE, SALT_BYTES) == 0;
}

static void note_span(GArray *spans, const char *replica, int64_t first, int64_t last, int64_t wall)
{
    Span span = {.first = first, .last = last, .wall = wall};

    g_strlcpy(span.replica, replica, sizeof span.replica);
    g_array_append_val(spans, span);
}

static int64_t number_in(const json_t *body, const char *field)
{
    return json_integer_value(json_object_get(body, field));
}

static void note_stamp(Looking *looking, const Event *event)
{
    Stamp clock = {.wall = looking->now_ms};

    if (!stamp_receive(&clock, looking->now_ms, (Stamp){event->wall, event->logical}))
        note_span(looking->wild, event->replica, event->seq, event->seq, event->wall);
    if (strcmp(event->kind, "clock.bounded") == 0 && event->body != NULL) {
        json_t *body = body_read(event->body);
        note_span(looking->bounds, event->subject, number_in(body, "first"),
                  number_in(body, "last"), number_in(body, "wall"));
        json_decref(body);
    }
}

static bool is_bounded(const Looking *looking, const Span *wild)
{
    for (guint i = 0; i < looking->bounds->len; i++) {
        const Span *bound = &g_array_index(looking->bounds, Span, i);
        if (strcmp(bound->replica, wild->replica) == 0 && wild->first >= bound->first &&
            wild->first <= bound->last && bound->wall <= wild->wall &&
            bound->wall <= looking->now_ms + STAMP_AHEAD_MS)
            return true;
    }
    return false;
}

static void look_at(Looking *looking, const Cell *cells)
{
    Event event;

    if (!snapshot_event(cells, &event) || !is_formed(&event) || !is_salted(&event)) {
        looking->why = "an entry in it cannot be";
        return;
    }
    if (!follows(looking, &event)) {
        looking->why = "a chain in it does not hold";
        return;
    }
    note_stamp(looking, &event);
    if (snapshot_is_heard(event.kind) && event.body != NULL) looking->heard += strlen(event.body);
    if (looking->heard > SNAPSHOT_HEARD_MAX || looking->wild->len > WILD_MOST ||
        looking->bounds->len > WILD_MOST)
        looking->why = "it has more erasures or bounds on stamps than a snapshot may have";
}

static bool are_equal(const GArray *one, const GArray *other)
{
    for (guint i = 0; i < one->len; i++) {
        const VectorEntry *entry = &g_array_index(one, VectorEntry, i);
        const VectorEntry *there = vector_find(other, entry->replica);
        if (there == NULL || there->seq != entry->seq ||
            memcmp(there->digest, entry->digest, DIGEST_BYTES) != 0)
            return false;
    }
    return one->len == other->len;
}

static void judge(Looking *looking)
{
    if (looking->why == NULL && !are_equal(looking->told->vector, looking->found))
        looking->why = "it lacks entries that it says it has";
    for (guint i = 0; looking->why == NULL && i < looking->wild->len; i++)
        if (!is_bounded(looking, &g_array_index(looking->wild, Span, i)))
            looking->why = "an entry in it has a stamp of a time to come";
}

/* A cell that is the same as before takes one byte in the file, however long it is. */
static void weigh(Looking *looking, const Cell *cells, int count)
{
    for (int i = 0; i < count; i++)
        looking->left -= (int64_t)MAX(cells[i].length, sizeof(int64_t));
    if (looking->left < 0) looking->why = "its rows come to far more than its size allows";
}

static int64_t most_bytes(const SnapshotIn *in)
{
    struct stat about;

    return SPREAD_BYTES +
           (fstat(in->file, &about) == 0 ? SPREAD_TIMES * (int64_t)about.st_size : 0);
}

static void look_at_all(SnapshotIn *in, Looking *looking)
{
    Cell cells[SNAPSHOT_COLUMNS_MAX];
    TableId table;

    looking->left = most_bytes(in);
    while (looking->why == NULL && snapshot_in_row(in, &table, cells)) {
        bool event = table == TABLE_COUNT;
        if (event) look_at(looking, cells);
        weigh(looking, cells, event ? SNAPSHOT_EVENT_COLUMNS : table_of(table)->columns);
    }
    if (in->broken && looking->why == NULL) looking->why = "it is cut or changed";
    judge(looking);
}

SnapshotLook *snapshot_look_over(const char *path, int64_t now_ms, const char **why)
{
    SnapshotIn in;
    const GByteArray *head = snapshot_in_begin(&in, path);

    *why = "it is no snapshot, or cut or changed";
    g_autoptr(SnapshotLook) told = head != NULL ? snapshot_unpack_head(head, why) : NULL;
    if (told != NULL) {
        g_autoptr(GArray) found = vector_new();
        g_autoptr(GArray) wild = g_array_new(FALSE, TRUE, sizeof(Span));
        g_autoptr(GArray) bounds = g_array_new(FALSE, TRUE, sizeof(Span));
        Looking looking = {
            .now_ms = now_ms, .told = told, .found = found, .wild = wild, .bounds = bounds};
        look_at_all(&in, &looking);
        *why = looking.why;
    }
    snapshot_in_end(&in);
    return *why == NULL ? g_steal_pointer(&told) : NULL;
}
