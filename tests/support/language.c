/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/language.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/files/tree.h"

json_t *language_tree(const char *language)
{
    g_autofree char *path = g_strdup_printf("config/languages/%s.yaml", language);
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = tree_load(path, lines);

    assert_non_null(tree);
    return json_incref(tree_root(tree));
}

/* Takes the tree over. */
static Pack *pack_of(json_t *tree)
{
    g_autoptr(Faults) faults = faults_new();
    Pack *pack = pack_read(tree, faults);

    for (guint i = 0; i < faults->items->len; i++) {
        const Fault *fault = g_ptr_array_index(faults->items, i);
        print_error("%s: %s: %s\n", fault->pointer, fault->value, fault->why);
    }
    json_decref(tree);
    assert_non_null(pack);
    return pack;
}

Pack *language_pack(const char *language)
{
    return pack_of(language_tree(language));
}

Pack *language_words(const char *language)
{
    json_t *tree = language_tree(language);
    json_t *english = language_tree("en");

    json_object_set(tree, "reading", json_object_get(english, "reading"));
    json_decref(english);
    return pack_of(tree);
}

Reading *language_read(const GPtrArray *packs, const char *language, const char *text)
{
    for (guint i = 0; i < packs->len; i++) {
        const Pack *pack = packs->pdata[i];
        if (strcmp(pack_language(pack), language) == 0)
            return reply_read(&pack, 1, text, strlen(text));
    }
    fail_msg("no pack %s", language);
    return NULL;
}
