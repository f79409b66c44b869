/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/programmes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "adapters/files/tree.h"

static Programme *load(const char *path, GPtrArray *messages)
{
    g_autoptr(Tree) tree = tree_load(path, messages);

    if (tree == NULL) return NULL;
    g_autoptr(Faults) faults = tree_faults_new(tree);
    Programme *programme = programme_read(tree_root(tree), faults);
    tree_faults(tree, faults, messages);
    return programme;
}

Programme *programme_shipped(const char *path)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    Programme *programme = load(path, messages);

    for (guint i = 0; i < messages->len; i++)
        print_error("%s\n", (const char *)g_ptr_array_index(messages, i));
    assert_non_null(programme);
    return programme;
}

GPtrArray *programme_messages(const char *path)
{
    GPtrArray *messages = g_ptr_array_new_with_free_func(g_free);
    Programme *programme = load(path, messages);

    assert_null(programme);
    return messages;
}
