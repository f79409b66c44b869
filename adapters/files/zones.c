/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/zones.h"

#include <glib/gstdio.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FOLDER "/usr/share/zoneinfo"

GTimeZone *zone_load(const char *name)
{
    /* GLib reads offsets and rules too ("+01", "EST5EDT,M3.2.0,M11.1.0"), and paths out of the
     * database. */
    if (!g_ascii_isalpha(name[0]) || strpbrk(name, ",.:<>") != NULL) return NULL;
    g_autofree char *path = g_build_filename(FOLDER, name, NULL);

    if (!g_file_test(path, G_FILE_TEST_IS_REGULAR) && strcmp(name, "UTC") != 0) return NULL;
    return g_time_zone_new_identifier(name);
}

/* The first line of a file without what stands before the version. */
static char *first_line(const char *path, const char *before)
{
    FILE *file = fopen(path, "r");
    char line[64] = "";

    if (file == NULL) return NULL;
    bool read = fgets(line, sizeof line, file) != NULL;
    fclose(file);
    if (!read || !g_str_has_prefix(line, before)) return NULL;
    return g_strstrip(g_strdup(line + strlen(before)));
}

/* "2025b": a year and one or two letters. */
static bool is_version(const char *text)
{
    size_t letters = strlen(text) > 4 ? strspn(text + 4, "abcdefghijklmnopqrstuvwxyz") : 0;

    return strspn(text, "0123456789") == 4 && letters > 0 && letters <= 2 &&
           text[4 + letters] == '\0';
}

char *zone_database(const char *root, int64_t *released_ms)
{
    /* tzdata.zi is the whole database as text, +VERSION what some systems lay beside it. */
    static const char *const FILES[][2] = {{"tzdata.zi", "# version "}, {"+VERSION", ""}};

    for (size_t i = 0; i < G_N_ELEMENTS(FILES); i++) {
        g_autofree char *path = g_build_filename(root != NULL ? root : FOLDER, FILES[i][0], NULL);
        g_autofree char *version = first_line(path, FILES[i][1]);
        GStatBuf about;
        if (version == NULL || !is_version(version) || g_stat(path, &about) != 0) continue;
        g_autoptr(GDateTime) year_end = g_date_time_new_utc(atoi(version), 12, 31, 0, 0, 0);
        *released_ms = MIN((int64_t)about.st_mtime, g_date_time_to_unix(year_end)) * 1000;
        return g_steal_pointer(&version);
    }
    return NULL;
}
