/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/ledger_rebuild.h"

#include <string.h>

#include "tests/support/ledger_tables.h"

typedef struct {
    LedgerTables *tables;
    GPtrArray *bounds; /* of Event */
} Rebuild;

static bool fold_one(const Event *event, void *context)
{
    Rebuild *rebuild = context;
    FoldTables fold = ledger_tables_fold(rebuild->tables);
    Event seen = *event;

    for (guint i = 0; i < rebuild->bounds->len; i++) {
        const Event *bound = rebuild->bounds->pdata[i];
        json_t *body = json_loads(bound->body, 0, NULL);
        const json_t *wall = json_object_get(body, "wall"), *first = json_object_get(body, "first");
        const json_t *last = json_object_get(body, "last");
        if (json_is_integer(wall) && json_is_integer(first) && json_is_integer(last) &&
            strcmp(bound->subject, event->replica) == 0 &&
            event->seq >= json_integer_value(first) && event->seq <= json_integer_value(last) &&
            json_integer_value(wall) <= seen.wall) {
            seen.wall = json_integer_value(wall);
            seen.logical = 0;
        }
        json_decref(body);
    }
    fold_event(&fold, &seen);
    return true;
}

static bool keep_bound(const Event *event, void *context)
{
    if (event->body != NULL) g_ptr_array_add(context, event_copy(event));
    return true;
}

static bool note_one(const Event *event, void *context)
{
    ledger_tables_note(((Rebuild *)context)->tables, event);
    return true;
}

static void rebuild(Tx *tx, Rebuild *into)
{
    tx_events(tx, "kind = 'clock.bounded'", keep_bound, into->bounds, "");
    tx_events(tx, "kind = 'client.same_as'", note_one, into, "");
    tx_events(tx, "ORDER BY seq DESC, replica", fold_one, into, "");
}

static int by_text(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

char *ledger_sorted(const char *dump)
{
    g_auto(GStrv) lines = g_strsplit(dump, "\n", -1);
    g_autoptr(GPtrArray) list = g_ptr_array_new();

    for (int i = 0; lines[i] != NULL; i++)
        if (*lines[i] != '\0') g_ptr_array_add(list, lines[i]);
    g_ptr_array_sort(list, by_text);
    g_ptr_array_add(list, NULL);
    return g_strjoinv("\n", (char **)list->pdata);
}

char *ledger_rebuilt(Tx *tx)
{
    Rebuild into = {.tables = ledger_tables_new(),
                    .bounds = g_ptr_array_new_with_free_func((GDestroyNotify)event_free)};

    rebuild(tx, &into);
    g_autofree char *dump = ledger_tables_dump(into.tables);
    ledger_tables_free(into.tables);
    g_ptr_array_unref(into.bounds);
    return ledger_sorted(dump);
}
