/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/find.h"

/* Longer than any id; what is longer names nothing. */
#define PREFIX_MAX 100

typedef struct {
    Tx *tx;
    const char *prefix;
    int count;
    char *id;
    bool exact;
} Search;

static void keep(const TxResult *result, void *context)
{
    Search *search = context;
    const char *id = tx_one(search->tx, result->text[0]);
    bool exact = g_ascii_strcasecmp(result->text[0], search->prefix) == 0;

    if (g_strcmp0(search->id, id) != 0) search->count++;
    search->exact = search->exact || exact;
    if (!exact && search->id != NULL) return;
    g_free(search->id);
    search->id = g_strdup(id);
}

static int finish(Search *search, char **id)
{
    if (search->exact) search->count = 1;
    if (search->count != 1) g_clear_pointer(&search->id, g_free);
    *id = search->id;
    return MIN(search->count, 2);
}

/* Ids are capitals, programmes' hashes small letters. A range over the key serves both and needs no
 * escaping: what begins with the prefix is not below it and below the prefix with the greatest
 * character after it. The exact id comes first. */
static void search_in(Tx *tx, const char *sql, const char *begin, Search *search)
{
    g_autofree char *end = g_strconcat(begin, "\x7f", NULL);

    tx_select(tx, sql, keep, search, "tt", begin, end);
}

static int search_cases(Tx *tx, const char *sql, const char *prefix, char **id)
{
    Search search = {.tx = tx, .prefix = prefix};
    size_t length = strlen(prefix);

    *id = NULL;
    if (length == 0 || length > PREFIX_MAX || !g_str_is_ascii(prefix)) return 0;
    g_autofree char *capital = g_ascii_strup(prefix, -1);
    g_autofree char *small = g_ascii_strdown(prefix, -1);
    search_in(tx, sql, capital, &search);
    if (strcmp(capital, small) != 0) search_in(tx, sql, small, &search);
    return finish(&search, id);
}

int find_by_prefix(Tx *tx, TableId table, const char *prefix, char **id)
{
    const Table *of = table_of(table);
    const char *key = of->column[0].name;

    g_assert(of->keys == 1 && of->column[0].type == COLUMN_TEXT);
    g_autofree char *sql = g_strdup_printf(
        "SELECT \"%s\" FROM %s WHERE \"%s\" >= ?1 AND \"%s\" < ?2 ORDER BY \"%s\" LIMIT 2", key,
        of->name, key, key, key);
    return search_cases(tx, sql, prefix, id);
}

static void note_found(const TxResult *result, void *context)
{
    (void)result;
    *(bool *)context = true;
}

/* Who was erased is nobody's other id any more. */
static bool has_name(Tx *tx, const char *client)
{
    bool found = false;

    tx_select(tx, "SELECT 1 FROM setting WHERE subject = ?1 AND field = 'name'", note_found, &found,
              "t", client);
    return found;
}

/* Every id of a client that has several names it. The plus keeps SQLite from walking every name: the range over the key is the
 * narrow way in. */
int find_client_by_prefix(Tx *tx, const char *prefix, char **id)
{
    int found = search_cases(
        tx,
        "SELECT subject FROM setting WHERE +field = 'name' AND subject >= ?1 AND subject < ?2 "
        "UNION SELECT client FROM same WHERE client >= ?1 AND client < ?2 "
        "UNION SELECT same_as FROM same WHERE same_as >= ?1 AND same_as < ?2 ORDER BY 1",
        prefix, id);
    if (found == 1 && !has_name(tx, *id)) {
        g_clear_pointer(id, g_free);
        return 0;
    }
    return found;
}
