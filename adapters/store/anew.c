/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/anew.h"

#include <string.h>

#include "core/ledger/row.h"

/* More of one job are not held in memory: 20 MB or so. */
#define EVENTS_MOST 20000
#define SUBJECTS_MOST 20000
#define CROSSED "crossed"

struct Anew {
    GHashTable *subjects; /* set of texts */
    GHashTable *rows;     /* key as text -> Row: of all that may be no more */
    int left;             /* of EVENTS_MOST, before more is looked at */
};

static void free_row(void *row)
{
    row_free(row);
}

static GHashTable *row_set_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_row);
}

static void anew_free(Anew *anew)
{
    if (anew == NULL) return;
    g_hash_table_unref(anew->subjects);
    g_hash_table_unref(anew->rows);
    g_free(anew);
}

void anew_forget(Tx *tx)
{
    anew_free(g_steal_pointer(&tx->anew));
    tx->crossed = CROSSED_UNKNOWN;
}

static void give_up(Tx *tx)
{
    anew_free(g_steal_pointer(&tx->anew));
    tx->refold = true;
}

/* --- events that name what is another subject's ------------------------------------------------------ */

static void keep_text(const TxResult *result, void *context)
{
    *(char **)context = g_strdup(result->text[0]);
}

/* Whose event lifted a bar that is not here yet. */
static char *lifter(Tx *tx, const char *event)
{
    const char *colon = strchr(event, ':');
    char *subject = NULL;

    if (colon == NULL) return NULL;
    g_autofree char *replica = g_strndup(event, (gsize)(colon - event));
    tx_select(tx, "SELECT subject FROM event WHERE replica = ?1 AND seq = ?2", keep_text, &subject,
              "ti", replica, g_ascii_strtoll(colon + 1, NULL, 10));
    return subject;
}

/* Whose the row is, in a table of which an event can name any; NULL: nobody's yet. */
static char *owner(Tx *tx, const Row *row)
{
    switch (row_table(row)) {
    case TABLE_SESSION: return g_strdup(row_text(row, SESSION_CLIENT));
    case TABLE_MESSAGE:
        return g_strdup(row_is_null(row, MESSAGE_CLIENT) ? "clinic"
                                                         : row_text(row, MESSAGE_CLIENT));
    case TABLE_BAR:
        if (!row_is_null(row, BAR_CLIENT)) return g_strdup(row_text(row, BAR_CLIENT));
        return row_is_null(row, BAR_LIFT) ? NULL : lifter(tx, row_text(row, BAR_LIFT));
    default: return NULL;
    }
}

void anew_note(Tx *tx, const Row *row)
{
    TableId table = row_table(row);

    if (tx->folding == NULL || tx->crossed > CROSSED_NO) return;
    if (table != TABLE_SESSION && table != TABLE_MESSAGE && table != TABLE_BAR) return;
    g_autofree char *whose = owner(tx, row);
    if (whose == NULL || strcmp(whose, tx->folding) == 0) return;
    g_autofree char *one = g_strdup(tx_one(tx, whose));
    if (strcmp(one, tx_one(tx, tx->folding)) != 0) tx->crossed = CROSSED_FOUND;
}

void anew_set_crossed(Tx *tx)
{
    tx_set_meta(tx, CROSSED, "1");
    tx->crossed = CROSSED_KEPT;
}

void anew_keep(Tx *tx)
{
    if (tx->crossed == CROSSED_FOUND) anew_set_crossed(tx);
}

bool anew_is_crossed(Tx *tx)
{
    if (tx->crossed == CROSSED_UNKNOWN) {
        g_autofree char *kept = tx_meta(tx, CROSSED);
        tx->crossed = kept != NULL ? CROSSED_KEPT : CROSSED_NO;
    }
    return tx->crossed != CROSSED_NO;
}

/* --- folding in memory -------------------------------------------------------------------------------- */

typedef struct {
    Tx *tx;
    GHashTable *rows; /* key as text -> Row */
    FoldTables tables;
    int left;
} World;

static char *key_text(const Row *row)
{
    const Table *table = table_of(row_table(row));
    GString *key = g_string_new(table->name);

    for (int i = 0; i < table->keys; i++) {
        if (table->column[i].type == COLUMN_TEXT)
            g_string_append_printf(key, "\n%s", row_text(row, i));
        else
            g_string_append_printf(key, "\n%" G_GINT64_FORMAT, row_int(row, i));
    }
    return g_string_free(key, FALSE);
}

static Row *world_get(void *context, const Row *key)
{
    g_autofree char *text = key_text(key);
    const Row *row = g_hash_table_lookup(((World *)context)->rows, text);

    return row != NULL ? row_copy(row) : NULL;
}

/* Who is erased, or one with another, stays so; and others may have said it too. */
static void world_put(void *context, const Row *row)
{
    if (row_table(row) == TABLE_ERASED || row_table(row) == TABLE_SAME) return;
    g_hash_table_replace(((World *)context)->rows, key_text(row), row_copy(row));
}

static const char *world_one(void *context, const char *client)
{
    return tx_one(((World *)context)->tx, client);
}

static bool fold_in(const Event *event, void *context)
{
    World *world = context;
    Event seen = tx_seen(world->tx, event);

    fold_event(&world->tables, &seen);
    return --world->left > 0;
}

/* What all events of the subjects give; NULL where they are as many as are left, or more. */
static GHashTable *fold_subjects(Tx *tx, GHashTable *subjects, int *left)
{
    World world = {.tx = tx, .rows = row_set_new(), .left = *left};
    GHashTableIter iter;
    void *subject;

    world.tables =
        (FoldTables){.get = world_get, .put = world_put, .one = world_one, .context = &world};
    g_hash_table_iter_init(&iter, subjects);
    while (world.left > 0 && g_hash_table_iter_next(&iter, &subject, NULL))
        tx_events(tx, "subject = ?1 LIMIT ?2", fold_in, &world, "ti", (const char *)subject,
                  (int64_t)world.left);
    *left = world.left;
    if (world.left > 0) return world.rows;
    g_hash_table_unref(world.rows);
    return NULL;
}

/* --- before ------------------------------------------------------------------------------------------- */

static void add_subject(const TxResult *result, void *context)
{
    g_hash_table_add(context, g_strdup(result->text[0]));
}

/* All ids of those clients that are not looked at yet. */
static GHashTable *fresh_subjects(Tx *tx, GHashTable *found)
{
    GHashTable *fresh = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    GHashTableIter iter;
    void *subject;

    g_hash_table_iter_init(&iter, found);
    while (g_hash_table_iter_next(&iter, &subject, NULL)) {
        if (g_hash_table_contains(tx->anew->subjects, subject)) continue;
        g_autoptr(GPtrArray) all = tx_all_of(tx, subject);
        for (guint i = 0; i < all->len; i++)
            g_hash_table_add(fresh, g_strdup(all->pdata[i]));
    }
    return fresh;
}

static bool is_equal(const Row *a, const Row *b)
{
    if (a == NULL || b == NULL) return a == b;
    for (int i = 0; i < table_of(row_table(a))->columns; i++)
        if (row_compare_value(a, b, i) != 0) return false;
    return true;
}

/* Are the rows those of the tables? */
static bool are_held(Tx *tx, GHashTable *rows)
{
    GHashTableIter iter;
    void *row;

    g_hash_table_iter_init(&iter, rows);
    while (g_hash_table_iter_next(&iter, NULL, &row)) {
        g_autoptr(Row) held = tx_get(tx, row);
        if (!is_equal(held, row)) return false;
    }
    return true;
}

static Row *key_of(const Row *row)
{
    Row *key = row_new(row_table(row));

    for (int i = 0; i < table_of(row_table(row))->keys; i++)
        row_copy_value(key, i, row, i);
    return key;
}

/* Whose card it is on has to be known where it goes: two columns more than the key, of a bar. */
static Row *trace_of(const Row *row)
{
    Row *trace = key_of(row);

    if (row_table(row) == TABLE_BAR) row_copy_value(trace, BAR_CLIENT, row, BAR_CLIENT);
    return trace;
}

/* Written between the change and the folding anew: it may be no more either. */
void anew_note_put(Tx *tx, const Row *row)
{
    bool noted = tx->anew != NULL && tx->folding != NULL && row_table(row) != TABLE_ERASED &&
                 row_table(row) != TABLE_SAME &&
                 g_hash_table_contains(tx->anew->subjects, tx->folding);

    if (noted) g_hash_table_replace(tx->anew->rows, key_text(row), trace_of(row));
}

static void take_over(Anew *anew, GHashTable *subjects, GHashTable *rows)
{
    GHashTableIter iter;
    void *key, *row;

    g_hash_table_iter_init(&iter, subjects);
    while (g_hash_table_iter_next(&iter, &key, NULL))
        g_hash_table_add(anew->subjects, g_strdup(key));
    g_hash_table_iter_init(&iter, rows);
    while (g_hash_table_iter_next(&iter, &key, &row))
        g_hash_table_replace(anew->rows, g_strdup(key), trace_of(row));
}

static void look_at(Tx *tx, GHashTable *found)
{
    if (tx->anew == NULL) {
        tx->anew = g_new0(Anew, 1);
        tx->anew->subjects = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
        tx->anew->rows = row_set_new();
        tx->anew->left = EVENTS_MOST;
    }
    g_autoptr(GHashTable) fresh = fresh_subjects(tx, found);
    guint subjects = g_hash_table_size(tx->anew->subjects) + g_hash_table_size(fresh);
    g_autoptr(GHashTable) rows =
        subjects <= SUBJECTS_MOST ? fold_subjects(tx, fresh, &tx->anew->left) : NULL;
    if (rows != NULL && are_held(tx, rows))
        take_over(tx->anew, fresh, rows);
    else
        give_up(tx);
}

void anew_before(Tx *tx, const char *sql, const char *types, ...)
{
    va_list arguments;

    if (tx->refold) return;
    if (anew_is_crossed(tx)) {
        give_up(tx);
        return;
    }
    g_autoptr(GHashTable) found = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    va_start(arguments, types);
    tx_select_list(tx, sql, add_subject, found, types, arguments);
    va_end(arguments);
    if (g_hash_table_size(found) > 0) look_at(tx, found);
}

/* --- after -------------------------------------------------------------------------------------------- */

static void write_rows(Tx *tx, GHashTable *rows)
{
    GHashTableIter iter;
    void *row;

    g_hash_table_iter_init(&iter, rows);
    while (g_hash_table_iter_next(&iter, NULL, &row)) {
        g_autoptr(Row) held = tx_get(tx, row);
        if (!is_equal(held, row)) engine_put_row(tx, row);
    }
}

static void remove_rows(Tx *tx, GHashTable *rows)
{
    GHashTableIter iter;
    void *key, *row;

    g_hash_table_iter_init(&iter, tx->anew->rows);
    while (g_hash_table_iter_next(&iter, &key, &row))
        if (!g_hash_table_contains(rows, key)) engine_remove_row(tx, row);
}

bool anew_fold(Tx *tx)
{
    if (tx->refold) give_up(tx);
    if (tx->anew == NULL) return !tx->refold;
    int left = EVENTS_MOST;
    g_autoptr(GHashTable) rows =
        anew_is_crossed(tx) ? NULL : fold_subjects(tx, tx->anew->subjects, &left);
    if (rows == NULL) {
        give_up(tx);
        return false;
    }
    tx->people_moves++;
    remove_rows(tx, rows);
    write_rows(tx, rows);
    anew_free(g_steal_pointer(&tx->anew));
    return tx->bad == STORE_OK;
}
