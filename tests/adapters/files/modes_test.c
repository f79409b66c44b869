/* SPDX-License-Identifier: Apache-2.0 */
/* Who else on the machine can get at the record. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>
#include <sys/stat.h>

#include "adapters/files/clinic_file.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

/* How many cautions the folder has that tell of other users. */
static int tells_of_others(const char *dir)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(ClinicFolder) folder = clinic_folder_load(dir, messages);
    int n = 0;

    assert_non_null(folder);
    for (guint i = 0; i < folder->cautions->len; i++)
        n += strstr(folder->cautions->pdata[i], "chmod o-rwx") != NULL;
    return n;
}

static void a_record_that_other_users_can_read_is_told(void **state)
{
    char *dir = folder_new();
    g_autofree char *text = settings_plain("Withy Lane", "", "");

    (void)state;
    folder_write(dir, "clinic.yaml", text, -1, 0600);
    folder_write(dir, "store.db", "", -1, 0644);
    assert_int_equal(chmod(dir, 0700), 0);
    assert_int_equal(tells_of_others(dir), 0); /* nobody gets that far */
    assert_int_equal(chmod(dir, 0755), 0);
    assert_int_equal(tells_of_others(dir), 1);
    assert_int_equal(chmod(dir, 0757), 0);
    assert_int_equal(tells_of_others(dir), 2);
    folder_remove(dir);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_record_that_other_users_can_read_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
