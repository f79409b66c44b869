/* SPDX-License-Identifier: Apache-2.0 */
#define _GNU_SOURCE /* memfd_create */
#include "tests/fuzz/paper.h"

#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "adapters/files/complaint.h"
#include "adapters/files/tree.h"

static void check_messages(const GPtrArray *messages)
{
    for (guint i = 0; i < messages->len; i++) {
        Complaint parts = {0};
        g_assert(complaint_split(messages->pdata[i], &parts));
        g_assert(strchr(messages->pdata[i], '\n') == NULL);
        g_assert(g_utf8_validate(messages->pdata[i], -1, NULL));
        complaint_clear(&parts);
    }
}

void paper_try(const uint8_t *data, size_t size, PaperRead *read)
{
    int file = memfd_create("paper.yaml", 0);
    g_autofree char *path = g_strdup_printf("/proc/self/fd/%d", file);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    g_assert(file >= 0 && write(file, data, size) == (ssize_t)size);
    g_autoptr(Tree) tree = tree_load(path, messages);
    g_assert((tree == NULL) == (messages->len > 0));
    if (tree != NULL) {
        g_autoptr(Faults) faults = tree_faults_new(tree);
        bool taken = read(tree_root(tree), faults);
        tree_faults(tree, faults, messages);
        g_assert(taken == (messages->len == 0));
    }
    check_messages(messages);
    close(file);
}
