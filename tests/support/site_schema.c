/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/site_schema.h"

#include <string.h>

static char *settings_of(const Site *site)
{
    g_autofree char *path = g_build_filename(site->clinic, "clinic.yaml", NULL);
    char *text = NULL;

    if (!g_file_get_contents(path, &text, NULL, NULL)) g_error("no settings in %s", path);
    return text;
}

void site_use_schema(Site *site, const char *schema)
{
    g_autofree char *before = settings_of(site);
    g_autofree char *settings =
        g_strdup_printf("%s\nstore: {kind: postgres, connect: \"%s\", schema: %s}\n", before,
                        pg_server_connect(), schema);

    site_settings(site, settings);
}

void site_leave_schema(Site *site)
{
    g_autofree char *settings = settings_of(site);
    char *store = strstr(settings, "\nstore: {kind: postgres");

    g_assert_nonnull(store);
    *store = '\0';
    site_settings(site, settings);
}
