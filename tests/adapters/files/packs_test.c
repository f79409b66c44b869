/* SPDX-License-Identifier: Apache-2.0 */
/* Language packs are read several at once; nobody who reads what is wrong with them sees that. Languages are made up. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/files/packs.h"
#include "tests/support/folder.h"

static void messages_and_packs_stand_in_the_order_of_their_files(void **state)
{
    enum { FILES = 24 };
    char *dir = folder_new();
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    folder_room(dir, "languages");
    for (int i = 0; i < FILES; i++) {
        g_autofree char *name = g_strdup_printf("languages/q%c.yaml", 'a' + i);
        /* the earlier, the more there is to read */
        g_autofree char *filler = g_strnfill((gsize)(FILES - i) * 20000, '#');
        g_autofree char *text = g_strdup_printf("%s\nlanguage: q%c\nsongs: {}\n", filler, 'a' + i);
        folder_write(dir, name, text, -1, 0600);
    }
    g_autoptr(GPtrArray) packs = packs_load(dir, messages);
    int file = -1;
    for (guint i = 0; i < messages->len; i++) {
        const char *name = strstr(messages->pdata[i], "/languages/q");
        assert_non_null(name);
        int of = name[strlen("/languages/q")] - 'a';
        assert_in_range(of, MAX(file, 0), MIN(file + 1, FILES - 1));
        file = of;
    }
    assert_int_equal(file, FILES - 1);
    assert_int_equal(packs->len, 3);
    assert_string_equal(pack_language(packs->pdata[0]), "en");
    assert_string_equal(pack_language(packs->pdata[1]), "es");
    assert_string_equal(pack_language(packs->pdata[2]), "fr");
    folder_remove(dir);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(messages_and_packs_stand_in_the_order_of_their_files),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
