/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/share.h"

#include <glib.h>
#include <stdbool.h>
#include <string.h>

static bool holds_data(const char *folder)
{
    g_autofree char *languages = g_build_filename(folder, "languages", NULL);
    g_autofree char *programmes = g_build_filename(folder, "programmes", NULL);

    return g_file_test(languages, G_FILE_TEST_IS_DIR) ||
           g_file_test(programmes, G_FILE_TEST_IS_DIR);
}

/* config/ beside the running program's folder or one above it, or NULL. */
static char *beside_program(void)
{
    g_autofree char *above = g_file_read_link("/proc/self/exe", NULL);
    char *slash;

    while (above != NULL && (slash = strrchr(above, '/')) != NULL) {
        *slash = '\0';
        g_autofree char *folder = g_build_filename(*above != '\0' ? above : "/", "config", NULL);
        if (holds_data(folder)) return g_steal_pointer(&folder);
    }
    return NULL;
}

char *share_folder(void)
{
    static const char *const INSTALLED[] = {
#ifdef OSIER_SHARE_DIR
        OSIER_SHARE_DIR,
#endif
        "/usr/local/share/osier", "/usr/share/osier"};
    const char *named = g_getenv("OSIER_SHARE");

    if (named != NULL && *named != '\0') return g_strdup(named);
    char *built = beside_program();
    if (built != NULL) return built;
    for (size_t i = 0; i + 1 < G_N_ELEMENTS(INSTALLED); i++)
        if (holds_data(INSTALLED[i])) return g_strdup(INSTALLED[i]);
    return g_strdup(INSTALLED[G_N_ELEMENTS(INSTALLED) - 1]);
}
