/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/zones.h"

#include <stdbool.h>
#include <string.h>

#define ID_BYTES_MAX 64
#define FOLDER "/usr/share/zoneinfo"

/* A clinic's clients live in a few zones; a cache that is full of others is emptied. */
#define CACHED_MAX 64

typedef struct {
    GTimeZone *zone;
    ZoneStretch near;
    ZoneDay day;
    bool has_day;
} Known;

struct Zones {
    GHashTable *by_id; /* char * to Known * */
};

static void known_free(void *gone)
{
    Known *known = gone;

    g_time_zone_unref(known->zone);
    g_free(known);
}

Zones *zones_new(void)
{
    Zones *zones = g_new0(Zones, 1);

    zones->by_id = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, known_free);
    return zones;
}

void zones_free(Zones *zones)
{
    if (zones == NULL) return;
    g_hash_table_unref(zones->by_id);
    g_free(zones);
}

/* A capital first: that leaves out paths, offsets, and the folder's other files and trees (right/,
 * which counts leap seconds, posixrules, leapseconds). */
static bool plausible(const char *id)
{
    if (!g_ascii_isupper(id[0]) || strlen(id) > ID_BYTES_MAX) return false;
    for (const char *at = id; *at != '\0'; at++)
        if (!g_ascii_isalnum(*at) && strchr("_+-/", *at) == NULL) return false;
    return true;
}

/* GLib also takes POSIX rules such as "XYZ5" for zones; only a name in the database is one. It
 * looks in the same place. */
static bool in_database(const char *id)
{
    const char *folder = g_getenv("TZDIR");
    g_autofree char *path = g_build_filename(folder != NULL ? folder : FOLDER, id, NULL);

    return g_file_test(path, G_FILE_TEST_IS_REGULAR);
}

static Known *find(Zones *zones, const char *id)
{
    Known *known = g_hash_table_lookup(zones->by_id, id);

    if (known != NULL) return known;
    if (!plausible(id) || !in_database(id)) return NULL;
    GTimeZone *zone = g_time_zone_new_identifier(id);
    if (zone == NULL) return NULL;
    if (g_hash_table_size(zones->by_id) >= CACHED_MAX) g_hash_table_remove_all(zones->by_id);
    known = g_new0(Known, 1);
    known->zone = zone;
    g_hash_table_insert(zones->by_id, g_strdup(id), known);
    return known;
}

GTimeZone *zones_get(Zones *zones, const char *id)
{
    Known *known = find(zones, id);

    return known != NULL ? known->zone : NULL;
}

ZoneStretch *zones_near(Zones *zones, const char *id)
{
    Known *known = find(zones, id);

    return known != NULL ? &known->near : NULL;
}

const ZoneDay *zones_day(Zones *zones, const char *id, int64_t at_ms)
{
    Known *known = find(zones, id);

    if (known == NULL) return NULL;
    if (known->has_day && known->day.at_ms == at_ms) return &known->day;
    LocalTime local = zone_local_near(&known->near, known->zone, at_ms);
    LocalTime first = {.day = local.day}, next = {.day = local.day + 1};
    known->has_day = true;
    known->day = (ZoneDay){.at_ms = at_ms,
                           .local = local,
                           .from_ms = zone_instant_near(&known->near, known->zone, first, NULL),
                           .to_ms = zone_instant_near(&known->near, known->zone, next, NULL)};
    return &known->day;
}
