/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/places.h"

#include <string.h>

#include "adapters/files/complaint.h"

typedef struct {
    Place place;
    PlaceBelow below;
} Node;

/* The pointers of the nodes that were noted so far. */
typedef struct {
    GHashTable *nodes;   /* from pointer, lent, to the number of the node and one */
    GPtrArray *pointers; /* by node */
} Index;

struct Places {
    GArray *nodes; /* of Node */
    GStringChunk *texts;
    Index index; /* by the time that it is asked for */
};

Places *places_new(void)
{
    Places *places = g_new0(Places, 1);

    places->nodes = g_array_new(FALSE, FALSE, sizeof(Node));
    places->texts = g_string_chunk_new(4096);
    places->index.nodes = g_hash_table_new(g_str_hash, g_str_equal);
    places->index.pointers = g_ptr_array_new_with_free_func(g_free);
    return places;
}

void places_free(Places *places)
{
    if (places == NULL) return;
    g_hash_table_unref(places->index.nodes);
    g_ptr_array_unref(places->index.pointers);
    g_string_chunk_free(places->texts);
    g_array_unref(places->nodes);
    g_free(places);
}

static const Node *node_at(const Places *places, guint i)
{
    return &g_array_index(places->nodes, Node, i);
}

int places_add(Places *places, const PlaceBelow *below, const Place *place)
{
    Node node = {*place, *below};

    if (place->written != NULL)
        node.place.written = g_string_chunk_insert(places->texts, place->written);
    if (below->key != NULL) node.below.key = g_string_chunk_insert(places->texts, below->key);
    g_array_append_val(places->nodes, node);
    return (int)places->nodes->len - 1;
}

static char *pointer_of(const Places *places, const PlaceBelow *below)
{
    if (below->above < 0) return g_strdup("");
    const char *above = g_ptr_array_index(places->index.pointers, below->above);
    return below->key != NULL ? fault_pointer(above, below->key)
                              : fault_pointer_item(above, below->item);
}

static void index_pointers(const Places *places)
{
    const Index *index = &places->index;

    for (guint i = index->pointers->len; i < places->nodes->len; i++) {
        const PlaceBelow *below = &node_at(places, i)->below;
        char *pointer = pointer_of(places, below);
        g_ptr_array_add(index->pointers, pointer);
        if (!below->hidden) g_hash_table_replace(index->nodes, pointer, GUINT_TO_POINTER(i + 1));
    }
}

const Place *places_get(const Places *places, const char *pointer)
{
    index_pointers(places);
    guint found = GPOINTER_TO_UINT(g_hash_table_lookup(places->index.nodes, pointer));
    return found != 0 ? &node_at(places, found - 1)->place : NULL;
}

const Place *places_of_key(const Places *places, int above, const char *key)
{
    index_pointers(places);
    g_autofree char *pointer = fault_pointer(places->index.pointers->pdata[above], key);
    return places_get(places, pointer);
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
