/* SPDX-License-Identifier: Apache-2.0 */
/* How an event is seen by the fold: a stamp that no honest clock gives counts as of the instant at which it was met, and
 * words that were erased are gone. Both are said by events, in any order; where one comes after what it speaks of was
 * folded, that is folded anew. That is rare, and right whatever the order was. */
#include "adapters/store/anew.h"

typedef struct {
    char replica[17];
    int64_t first, last, wall;
} Bound;

void engine_forget(Tx *tx)
{
    if (tx->bounds != NULL) g_array_unref(tx->bounds);
    tx->bounds = NULL;
    same_free(g_steal_pointer(&tx->same));
    tx->people_moves++;
    tx->work_moves++;
    tx->erasing = -1;
    g_hash_table_remove_all(tx->heads);
    if (tx->rows != NULL) rows_forget(tx->rows);
}

static void see_one(const TxResult *result, void *context)
{
    (void)result;
    ((Tx *)context)->refold = true;
}

static void read_bounds(Tx *tx)
{
    g_autoptr(GPtrArray) rows = tx_rows(tx, TABLE_BOUNDED, "ORDER BY id", "");

    tx->bounds = g_array_new(FALSE, TRUE, sizeof(Bound));
    for (guint i = 0; i < rows->len; i++) {
        Bound bound = {.first = row_int(rows->pdata[i], BOUNDED_FIRST),
                       .last = row_int(rows->pdata[i], BOUNDED_LAST),
                       .wall = row_int(rows->pdata[i], BOUNDED_WALL)};

        g_strlcpy(bound.replica, row_text(rows->pdata[i], BOUNDED_REPLICA), sizeof bound.replica);
        g_array_append_val(tx->bounds, bound);
    }
}

Event tx_seen(Tx *tx, const Event *event)
{
    Event seen = *event;

    if (tx->bounds == NULL) read_bounds(tx);
    for (guint i = 0; i < tx->bounds->len; i++) {
        const Bound *bound = &g_array_index(tx->bounds, Bound, i);

        if (event->seq < bound->first || event->seq > bound->last ||
            strcmp(event->replica, bound->replica) != 0 || seen.wall < bound->wall)
            continue;
        seen.wall = bound->wall;
        seen.logical = 0;
    }
    return seen;
}

/* Does the bound change what was folded already? What says that two ids are one client's concerns many rows. */
static void note_bound(Tx *tx, const Event *event, const json_t *body)
{
    int64_t first = json_integer_value(json_object_get(body, "first"));
    int64_t last = json_integer_value(json_object_get(body, "last"));
    int64_t wall = json_integer_value(json_object_get(body, "wall"));

    tx_select(tx,
              "SELECT 1 FROM event WHERE replica = ?1 AND seq BETWEEN ?2 AND ?3 AND wall >= ?4 AND "
              "kind = 'client.same_as' LIMIT 1",
              see_one, tx, "tiii", event->subject, first, last, wall);
    anew_before(tx,
                "SELECT DISTINCT subject FROM event WHERE replica = ?1 AND seq BETWEEN ?2 AND ?3 "
                "AND wall >= ?4",
                "tiii", event->subject, first, last, wall);
    if (tx->bounds != NULL) g_array_unref(g_steal_pointer(&tx->bounds));
}

/* --- which ids are one client's --- */

static void read_same(Tx *tx)
{
    g_autoptr(GPtrArray) rows = tx_rows(tx, TABLE_SAME, "ORDER BY id", "");

    tx->same = same_new();
    for (guint i = 0; i < rows->len; i++)
        same_add(tx->same, row_text(rows->pdata[i], SAME_CLIENT),
                 row_text(rows->pdata[i], SAME_OF));
}

const Same *engine_same(Tx *tx)
{
    if (tx->same == NULL) read_same(tx);
    return tx->same;
}

const char *tx_one(Tx *tx, const char *client)
{
    return same_one(engine_same(tx), client);
}

GPtrArray *tx_all_of(Tx *tx, const char *client)
{
    GPtrArray *all = g_ptr_array_new_with_free_func(g_free);

    g_autoptr(GPtrArray) lent = same_all(engine_same(tx), client);
    for (guint i = 0; i < lent->len; i++)
        g_ptr_array_add(all, g_strdup(lent->pdata[i]));
    if (all->len == 0) g_ptr_array_add(all, g_strdup(client));
    return all;
}

/* What is kept under an id will move to another. */
static void before_same(Tx *tx, const char *id)
{
    if (id == NULL || *id == '\0') return;
    g_autofree char *one = g_strdup(tx_one(tx, id));
    anew_before(tx,
                "SELECT CAST(?1 AS TEXT) UNION SELECT id FROM reply WHERE client = ?1 OR "
                "r_client = ?1 OR s_client = ?1 UNION SELECT id FROM alert WHERE client = ?1",
                "t", one);
}

static void note_same(Tx *tx)
{
    same_free(g_steal_pointer(&tx->same));
    tx->people_moves++;
}

/* --- erasures --- */

bool engine_keeps_words(const char *kind)
{
    return strcmp(kind, "client.erase") == 0 || strcmp(kind, "redacted") == 0 ||
           strcmp(kind, "client.same_as") == 0;
}

static char *erased_for(Tx *tx, const char *subject)
{
    g_autoptr(Row) row = tx_get_text(tx, TABLE_ERASED, subject);

    return row != NULL ? g_strdup(row_text(row, ERASED_CLIENT)) : NULL;
}

/* A client's reply, alert or reading names the client in its body. */
const char *engine_client_in(const json_t *body)
{
    const json_t *client = json_object_get(body, "client");
    const char *text = json_string_value(client);

    return text != NULL && strlen(text) == json_string_length(client) ? text : NULL;
}

static void look_for_erasures(Tx *tx)
{
    g_autoptr(GPtrArray) rows = tx_rows(tx, TABLE_ERASED, "ORDER BY subject LIMIT 1", "");

    tx->erasing = rows->len > 0;
}

bool tx_has_erased(Tx *tx)
{
    if (tx->erasing < 0) look_for_erasures(tx);
    return tx->erasing != 0;
}

static bool is_erased(Tx *tx, const Event *event, const json_t *body, char **client)
{
    *client = NULL;
    if (!tx_has_erased(tx) || engine_keeps_words(event->kind)) return false;
    *client = erased_for(tx, event->subject);
    if (*client == NULL) {
        g_autofree char *id = event_id(event);
        *client = erased_for(tx, id);
    }
    if (*client == NULL && engine_client_in(body) != NULL)
        *client = erased_for(tx, engine_client_in(body));
    return *client != NULL;
}

#define HAS_WORDS                                                                                  \
    "body IS NOT NULL AND kind NOT IN ('client.erase', 'redacted', 'client.same_as') AND "

/* The event's row loses body and salt; its hashes stay. Where it was a bound, anything may be seen otherwise now. */
static void blank(Tx *tx, const char *where, const char *first, int64_t second)
{
    g_autofree char *bound =
        g_strconcat("SELECT 1 FROM event WHERE kind = 'clock.bounded' AND " HAS_WORDS, where, NULL);
    g_autofree char *whose =
        g_strconcat("SELECT DISTINCT subject FROM event WHERE " HAS_WORDS, where, NULL);
    g_autofree char *sql =
        g_strconcat("UPDATE event SET body = NULL, salt = ", tx->driver->dialect->no_salt,
                    " WHERE " HAS_WORDS, where, NULL);

    tx_select(tx, bound, see_one, tx, "ti", first, second);
    anew_before(tx, whose, "ti", first, second);
    if (tx_change(tx, sql, "ti", first, second) > 0) tx->clean = true;
}

/* "REPLICA:SEQ" */
static void blank_event(Tx *tx, const char *id)
{
    const char *colon = strchr(id, ':');

    if (colon == NULL) return;
    g_autofree char *replica = g_strndup(id, (gsize)(colon - id));
    blank(tx, "replica = ?1 AND seq = ?2", replica, g_ascii_strtoll(colon + 1, NULL, 10));
}

/* The subjects stand in the table by now, each under one client that claims it: where that is another, its claim has blanked
 * them. All at once, for an import that is taken back names thousands. */
void engine_take_words(Tx *tx, const Event *event, const json_t *body)
{
    json_t *also = json_object_get(body, "also");
    size_t i;
    json_t *item;

    tx->erasing = 1;
    if (strcmp(event->kind, "client.erase") == 0)
        blank(tx, "subject = ?1 AND ?2 = 0", event->subject, 0);
    blank(tx, "subject IN (SELECT subject FROM erased WHERE client = ?1) AND ?2 = 0",
          event->subject, 0);
    json_array_foreach(also, i, item)
    {
        if (json_is_string(item)) blank_event(tx, json_string_value(item));
    }
}

void engine_fold(Tx *tx, const Event *event, const json_t *body)
{
    FoldTables tables = engine_tables(tx);
    Event seen = tx_seen(tx, event);
    bool same = strcmp(event->kind, "client.same_as") == 0;

    if (same) {
        before_same(tx, event->subject);
        before_same(tx, json_string_value(json_object_get(body, "of")));
    }
    tx->folding = event->subject;
    fold_body(&tables, &seen, body);
    tx->folding = NULL;
    anew_keep(tx);
    if (strcmp(event->kind, "clock.bounded") == 0) note_bound(tx, event, body);
    if (same)
        note_same(tx);
    else if (engine_keeps_words(event->kind))
        engine_take_words(tx, event, body);
}

/* --- somebody was erased under one id and not under another --- */

static void add_id(const TxResult *result, void *context)
{
    json_array_append_new(context, json_string(result->text[0]));
}

/* The id, and the replies and alerts that are of it. */
static void add_words_of(Tx *tx, const char *client, json_t *also)
{
    json_array_append_new(also, json_string(client));
    tx_select(tx,
              "SELECT id FROM reply WHERE client = ?1 OR r_client = ?1 OR s_client = ?1 UNION "
              "SELECT id FROM alert WHERE client = ?1",
              add_id, also, "t", client);
}

/* Who is erased is erased under every id. */
static void spread_erasure(Tx *tx, const char *client)
{
    g_autoptr(GPtrArray) all = tx_all_of(tx, client);
    g_autofree char *gone = NULL;
    json_t *also = json_array();

    for (guint i = 0; i < all->len && gone == NULL; i++)
        gone = erased_for(tx, all->pdata[i]);
    for (guint i = 0; i < all->len && gone != NULL; i++) {
        g_autofree char *known = erased_for(tx, all->pdata[i]);
        if (known == NULL) add_words_of(tx, all->pdata[i], also);
    }
    if (json_array_size(also) > 0)
        tx_append(tx, "redacted", gone, "osier", NULL, json_pack("{s:O}", "also", also));
    json_decref(also);
}

/* Words about somebody who was erased: they stay out, here and elsewhere. */
void engine_leave_out_words(Tx *tx, const Event *event, const char *client)
{
    g_autoptr(Row) known = tx_get_text(tx, TABLE_ERASED, event->subject);
    g_autofree char *id = event_id(event);
    g_autoptr(Row) named = tx_get_text(tx, TABLE_ERASED, id);

    if (known == NULL && named == NULL)
        tx_append(tx, "redacted", client, "osier", NULL,
                  json_pack("{s:[s]}", "also", event->subject));
}

void engine_keep_event(Tx *tx, const Event *event, const json_t *body)
{
    g_autofree char *client = NULL;
    Event kept = *event;
    bool erased = body != NULL && is_erased(tx, event, body, &client);

    if (erased) {
        kept.body = NULL;
        memset(kept.salt, 0, SALT_BYTES);
    }
    engine_insert_event(tx, &kept);
    engine_fold(tx, &kept, erased ? NULL : body);
    if (erased) engine_leave_out_words(tx, event, client);
    if (strcmp(event->kind, "client.same_as") == 0 || strcmp(event->kind, "client.erase") == 0)
        spread_erasure(tx, event->subject);
    if (tx->heard != NULL) tx->heard(&kept, erased ? NULL : body, tx->heard_context);
}
