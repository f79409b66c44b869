/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/script.h"

#include <glib.h>
#include <glib/gstdio.h>

static const char FILL[] =
    "sqlite3 \"$1\" \"CREATE TABLE due (id INTEGER PRIMARY KEY, phone TEXT, text TEXT, at INTEGER, "
    "sent TEXT);"
    "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < $3)"
    "INSERT INTO due SELECT i, '+447700900123', 'Calves today, two minutes each side.', 0, NULL "
    "FROM n\"";

static const char LOOP[] =
    "sqlite3 \"$1\" 'SELECT id, phone, text FROM due WHERE sent IS NULL AND at <= unixepoch()' |\n"
    "while IFS='|' read -r id phone text; do\n"
    "  curl -sf -o /dev/null --data-urlencode \"to=$phone\" --data-urlencode \"text=$text\" \"$2\" "
    "&&\n"
    "  sqlite3 \"$1\" \"UPDATE due SET sent = datetime('now') WHERE id = $id\"\n"
    "done\n"
    "test \"$(sqlite3 \"$1\" 'SELECT count(*) FROM due WHERE sent IS NULL')\" = 0";

static bool run(const char *commands, const char *database, const char *url, int count)
{
    g_autofree char *number = g_strdup_printf("%d", count);
    const char *const words[] = {"sh", "-c", commands, "sh", database, url, number, NULL};
    int status = -1;

    return g_spawn_sync(NULL, (char **)words, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, NULL, NULL,
                        &status, NULL) &&
           status == 0;
}

double script_run_s(int count, const char *url)
{
    g_autofree char *folder = g_dir_make_tmp("osier-script-XXXXXX", NULL);
    g_autofree char *database = g_build_filename(folder, "due.db", NULL);
    bool good = run(FILL, database, url, count);
    int64_t began_us = g_get_monotonic_time();

    good = good && run(LOOP, database, url, count);
    double took_s = (double)(g_get_monotonic_time() - began_us) / G_USEC_PER_SEC;
    g_unlink(database);
    g_rmdir(folder);
    return good ? took_s : -1;
}
