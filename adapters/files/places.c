/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/places.h"

#include <string.h>

#include "adapters/files/complaint.h"

struct Places {
    GHashTable *by_pointer; /* -> Place */
};

static void free_place(void *data)
{
    Place *place = data;

    g_free(place->written);
    g_free(place);
}

Places *places_new(void)
{
    Places *places = g_new0(Places, 1);

    places->by_pointer = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_place);
    return places;
}

void places_free(Places *places)
{
    if (places == NULL) return;
    g_hash_table_unref(places->by_pointer);
    g_free(places);
}

void places_set(Places *places, const char *pointer, const Place *place)
{
    Place *copy = g_memdup2(place, sizeof *place);

    copy->written = g_strdup(place->written);
    g_hash_table_replace(places->by_pointer, g_strdup(pointer), copy);
}

const Place *places_get(const Places *places, const char *pointer)
{
    return g_hash_table_lookup(places->by_pointer, pointer);
}

/* The place of a pointer, or of the nearest node above that stands in the file. */
static const Place *find(const Places *places, const char *pointer)
{
    g_autofree char *above = g_strdup(pointer);

    for (;;) {
        const Place *place = places_get(places, above);
        char *slash = strrchr(above, '/');
        if (place != NULL || slash == NULL) return place;
        *slash = '\0';
    }
}

typedef struct {
    int line, column;
    const Fault *fault;
} Placed;

static int compare(const void *a, const void *b)
{
    const Placed *left = a, *right = b;

    if (left->line != right->line) return left->line < right->line ? -1 : 1;
    return (left->column > right->column) - (left->column < right->column);
}

void places_faults(const Places *places, const char *path, const Faults *faults,
                   GPtrArray *messages)
{
    g_autoptr(GArray) placed = g_array_new(FALSE, FALSE, sizeof(Placed));

    for (guint i = 0; i < faults->items->len; i++) {
        const Fault *fault = faults->items->pdata[i];
        const Place *place = find(places, fault->pointer);
        Placed item = {1, 1, fault};
        if (place != NULL) {
            item.line = fault->at_key ? place->key_line : place->line;
            item.column = fault->at_key ? place->key_column : place->column;
        }
        g_array_append_val(placed, item);
    }
    /* g_array_sort keeps the order of equal places. */
    g_array_sort(placed, compare);
    for (guint i = 0; i < placed->len; i++) {
        const Placed *item = &g_array_index(placed, Placed, i);
        complaint_add(messages, path, item->line, item->column, item->fault->value, "%s",
                      item->fault->why);
    }
}
