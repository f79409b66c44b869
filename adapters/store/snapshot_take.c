/* SPDX-License-Identifier: Apache-2.0 */
/* In one transaction: what is here and not in the snapshot is put aside, the tables are made anew and filled, their indexes are made when
 * all rows are there, and what was put aside goes on top. As the fold gives the same tables whatever the order of the
 * events, that is what taking in one after the other would have given. */
#include <string.h>

#include "adapters/store/anew.h"
#include "adapters/store/gather.h"
#include "adapters/store/snapshot_part.h"
#include "adapters/store/sql.h"
#include "core/ledger/body.h"

/* Who has more of its own replays. */
#define ASIDE_MOST 5000

typedef struct {
    Tx *tx;
    const SnapshotLook *look;
    GPtrArray *aside;   /* of Event: here, and not in the snapshot */
    GPtrArray *heard;   /* of Event */
    GHashTable *erased; /* who was, and what with them, by what was put aside: subject -> client */
    GHashTable *about;  /* subject -> Event, in the snapshot, whose body names one of them */
    Statement *put[TABLE_COUNT + 1];
    int64_t events;
} Taking;

/* --- what is here --- */

static void note_erased(Taking *taking, const char *subject, const char *client)
{
    g_hash_table_insert(taking->erased, g_strdup(subject), g_strdup(client));
}

static void note_erasure(Taking *taking, const Event *event)
{
    bool erasure = strcmp(event->kind, "client.erase") == 0 || strcmp(event->kind, "redacted") == 0;
    size_t i;
    json_t *item;

    if (!erasure || event->body == NULL) return;
    json_t *body = body_read(event->body);
    note_erased(taking, event->subject, event->subject);
    json_array_foreach(json_object_get(body, "also"), i, item)
    {
        if (json_is_string(item)) note_erased(taking, json_string_value(item), event->subject);
    }
    json_decref(body);
}

static bool put_aside(const Event *event, void *context)
{
    Taking *taking = context;

    note_erasure(taking, event);
    g_ptr_array_add(taking->aside, event_copy(event));
    return taking->aside->len <= ASIDE_MOST;
}

/* Does the chain of a replica go on from where it ends in the snapshot? */
static bool goes_on(Tx *tx, const VectorEntry *there)
{
    uint8_t digest[DIGEST_BYTES];

    return there == NULL || (tx_digest(tx, there->replica, there->seq, digest) &&
                             memcmp(digest, there->digest, DIGEST_BYTES) == 0);
}

static const char *look_aside(Taking *taking, const GArray *here)
{
    Tx *tx = taking->tx;

    for (guint i = 0; i < here->len; i++) {
        const VectorEntry *entry = &g_array_index(here, VectorEntry, i);
        const VectorEntry *there = vector_find(taking->look->vector, entry->replica);
        int64_t from = there != NULL ? there->seq : 0;

        if (from > entry->seq && strcmp(entry->replica, tx->replica) == 0)
            return "it has entries of this replica that this replica lacks";
        if (from >= entry->seq) continue;
        if (!goes_on(tx, there)) return "a chain in it is another than here";
        tx_events(tx, "replica = ?1 AND seq > ?2 ORDER BY seq", put_aside, taking, "ti",
                  entry->replica, from);
        if (taking->aside->len > ASIDE_MOST) return "too much is here that is not in it";
    }
    return NULL;
}

/* All that was here and is in the snapshot is the same there. */
static bool are_the_same(Tx *tx, const GArray *here)
{
    for (guint i = 0; i < here->len; i++) {
        const VectorEntry *entry = &g_array_index(here, VectorEntry, i);
        uint8_t digest[DIGEST_BYTES];
        if (tx_digest(tx, entry->replica, entry->seq, digest) &&
            memcmp(digest, entry->digest, DIGEST_BYTES) != 0)
            return false;
    }
    return true;
}

/* --- the tables --- */

/* The statements that make a table and its indexes; TABLE_COUNT: the events'. */
static GPtrArray *statements_of(Tx *tx, TableId id)
{
    return id == TABLE_COUNT ? sql_create_events(tx->driver->dialect)
                             : sql_create(tx->driver->dialect, id);
}

static bool is_made_anew(TableId id)
{
    return id == TABLE_COUNT || id == TABLE_CARD || snapshot_has_table(id);
}

/* Cards are copies of what goes. Entries come in the order of their chains, which needs no sorting. */
static bool empty(Tx *tx)
{
    for (TableId id = 0; id <= TABLE_COUNT; id++) {
        if (!is_made_anew(id)) continue;
        const char *name = id == TABLE_COUNT ? "event" : table_of(id)->name;
        g_autofree char *drop = g_strdup_printf("DROP TABLE %s", name);
        g_autoptr(GPtrArray) made = statements_of(tx, id);
        guint at_once = id == TABLE_COUNT ? 2 : 1;
        if (!engine_exec(tx, drop)) return false;
        for (guint i = 0; i < at_once; i++)
            if (!engine_exec(tx, made->pdata[i])) return false;
    }
    return true;
}

static bool make_indexes(Tx *tx)
{
    for (TableId id = 0; id <= TABLE_COUNT; id++) {
        if (!is_made_anew(id)) continue;
        g_autoptr(GPtrArray) made = statements_of(tx, id);
        for (guint i = id == TABLE_COUNT ? 2 : 1; i < made->len; i++)
            if (!engine_exec(tx, made->pdata[i])) return false;
    }
    return true;
}

/* --- the rows --- */

/* A key that comes twice is none of ours: the second is left out, and what lacks then is found. */
static char *insert_into(const char *name, int columns)
{
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "INSERT OR IGNORE INTO %s VALUES (", name);
    for (int i = 0; i < columns; i++)
        g_string_append_printf(sql, "%s?%d", i > 0 ? "," : "", i + 1);
    g_string_append_c(sql, ')');
    return g_string_free(sql, FALSE);
}

static Statement *statement_for(Taking *taking, TableId id)
{
    if (taking->put[id] == NULL) {
        g_autofree char *sql = id == TABLE_COUNT
                                   ? insert_into("event", SNAPSHOT_EVENT_COLUMNS)
                                   : insert_into(table_of(id)->name, table_of(id)->columns);
        taking->put[id] = engine_prepare(taking->tx, sql);
    }
    return taking->put[id];
}

static void bind_cell(Statement *statement, int at, const Cell *cell)
{
    switch (cell->kind) {
    case CELL_TEXT: statement->calls->bind_text(statement, at, cell->text); break;
    case CELL_INTEGER: statement->calls->bind_int(statement, at, cell->integer); break;
    case CELL_REAL: statement->calls->bind_real(statement, at, cell->real); break;
    case CELL_BYTES:
        statement->calls->bind_bytes(statement, at, (const uint8_t *)cell->text, (int)cell->length);
        break;
    default: statement->calls->bind_null(statement, at, VALUE_TEXT);
    }
}

/* Whoever made the snapshot may not know of an erasure that is known here, and who erased not of what is in it. */
static void note_about(Taking *taking, const Event *event)
{
    if (g_hash_table_size(taking->erased) == 0 || event->body == NULL ||
        engine_keeps_words(event->kind) || strstr(event->body, "\"client\"") == NULL)
        return;
    json_t *body = body_read(event->body);
    const char *client = engine_client_in(body);
    if (client != NULL && g_hash_table_contains(taking->erased, client) &&
        !g_hash_table_contains(taking->about, event->subject))
        g_hash_table_insert(taking->about, g_strdup(event->subject), event_copy(event));
    json_decref(body);
}

static void hear(Taking *taking, const Cell *cells)
{
    Event event;

    taking->events++;
    if (!snapshot_event(cells, &event)) return;
    if (snapshot_is_heard(event.kind)) g_ptr_array_add(taking->heard, event_copy(&event));
    note_about(taking, &event);
}

static void put_row(Taking *taking, TableId table, const Cell *cells)
{
    int columns = table == TABLE_COUNT ? SNAPSHOT_EVENT_COLUMNS : table_of(table)->columns;
    Statement *statement = statement_for(taking, table);

    if (statement == NULL) return;
    for (int i = 0; i < columns; i++)
        bind_cell(statement, i + 1, &cells[i]);
    engine_quiet(taking->tx, statement);
    if (table == TABLE_COUNT) hear(taking, cells);
}

static const char *put_rows(Taking *taking, const char *path)
{
    SnapshotIn in;
    Cell cells[SNAPSHOT_COLUMNS_MAX];
    TableId table;
    bool begun = snapshot_in_begin(&in, path) != NULL;

    while (begun && taking->tx->bad == STORE_OK && snapshot_in_row(&in, &table, cells))
        put_row(taking, table, cells);
    for (TableId id = 0; id <= TABLE_COUNT; id++)
        if (taking->put[id] != NULL) taking->put[id]->calls->clear(taking->put[id]);
    bool whole = begun && !in.broken && taking->events == taking->look->events;
    snapshot_in_end(&in);
    return whole || taking->tx->bad != STORE_OK ? NULL : "it is another than when it was looked at";
}

/* --- on top --- */

static void put_on_top(Taking *taking)
{
    for (guint i = 0; i < taking->aside->len; i++) {
        const Event *event = taking->aside->pdata[i];
        json_t *body = body_read(event->body);
        engine_keep_event(taking->tx, event, body);
        json_decref(body);
    }
}

/* Whoever made the snapshot has blanked what was erased; whoever has not is not followed. */
static void take_words(Taking *taking)
{
    for (guint i = 0; i < taking->heard->len; i++) {
        const Event *event = taking->heard->pdata[i];
        json_t *body = body_read(event->body);
        if (strcmp(event->kind, "client.same_as") != 0) engine_take_words(taking->tx, event, body);
        json_decref(body);
    }
}

/* As where such an event comes after the erasure. */
static void leave_out_words(Taking *taking)
{
    GHashTableIter iter;
    void *at;

    g_hash_table_iter_init(&iter, taking->about);
    while (g_hash_table_iter_next(&iter, NULL, &at)) {
        const Event *event = at;
        json_t *body = body_read(event->body);
        const char *client = g_hash_table_lookup(taking->erased, engine_client_in(body));
        engine_leave_out_words(taking->tx, event, client);
        json_decref(body);
    }
}

static const char *fill(Taking *taking, const char *path, const GArray *here)
{
    Tx *tx = taking->tx;
    const char *why = NULL;

    gather_forget(tx->gather);
    anew_forget(tx);
    if (empty(tx)) why = put_rows(taking, path);
    if (why == NULL) make_indexes(tx);
    engine_forget(tx);
    memset(tx->absent, 0, sizeof tx->absent);
    if (why == NULL && !are_the_same(tx, here)) why = "a chain in it is another than here";
    if (why != NULL || tx->bad != STORE_OK) return why;
    if (taking->look->crossed) anew_set_crossed(tx);
    tx->moves += taking->events;
    take_words(taking);
    put_on_top(taking);
    leave_out_words(taking);
    engine_recall(tx, tx->now);
    return NULL;
}

const char *snapshot_take(Tx *tx, const char *path, const SnapshotLook *look, SnapshotHeard *heard,
                          void *context)
{
    Taking taking = {.tx = tx,
                     .look = look,
                     .aside = g_ptr_array_new_with_free_func((GDestroyNotify)event_free),
                     .heard = g_ptr_array_new_with_free_func((GDestroyNotify)event_free),
                     .erased = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free),
                     .about = g_hash_table_new_full(g_str_hash, g_str_equal, g_free,
                                                    (GDestroyNotify)event_free)};
    g_autoptr(GArray) here = tx_vector(tx);
    void (*spill)(Driver * driver, bool may) = tx->driver->calls->spill;

    tx_catch_up(tx);
    const char *why = look_aside(&taking, here);
    if (spill != NULL) spill(tx->driver, true);
    if (why == NULL) why = fill(&taking, path, here);
    if (spill != NULL) spill(tx->driver, false);
    for (guint i = 0; why == NULL && tx->bad == STORE_OK && i < taking.heard->len; i++)
        heard(taking.heard->pdata[i], context);
    g_ptr_array_unref(taking.aside);
    g_ptr_array_unref(taking.heard);
    g_hash_table_unref(taking.erased);
    g_hash_table_unref(taking.about);
    return tx->bad == STORE_OK ? why : NULL; /* of a store that is lost nothing is known */
}

void snapshot_fold_anew(Tx *tx)
{
    anew_forget(tx);
    tx->refold = true;
}
