/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/screened.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_practice.h"
#include "core/practice/readiness.h"

/* Was the first written after the second? Two of one instant and one replica are told apart by their numbers. */
static bool is_later(int64_t at, const char *id, int64_t other_at, const char *other)
{
    const char *colon = strchr(id, ':');
    const char *other_colon = strchr(other, ':');

    if (at != other_at || colon == NULL || other_colon == NULL) return at > other_at;
    return colon - id == other_colon - other && memcmp(id, other, (size_t)(colon - id)) == 0 &&
           g_ascii_strtoll(colon + 1, NULL, 10) > g_ascii_strtoll(other_colon + 1, NULL, 10);
}

static bool is_due(Job *job, const char *client, const Row *screen)
{
    int64_t at = row_int(screen, SCREEN_AT);
    g_autoptr(GPtrArray) pauses = find_pauses(job->tx, client, at);

    for (guint i = 0; i < pauses->len; i++) {
        const Row *pause = pauses->pdata[i];
        const char *why = row_text(pause, BAR_WHY);
        if (why != NULL && absence_needs_screen(why) &&
            is_later(row_int(pause, BAR_AT), row_text(pause, BAR_ID), at,
                     row_text(screen, SCREEN_ID)))
            return true;
    }
    return false;
}

Screened *screened_load(Job *job, const char *client)
{
    Screened *screened = g_new0(Screened, 1);

    screened->row = find_screen(job->tx, client);
    screened->due = screened->row == NULL || is_due(job, client, screened->row);
    if (screened->row == NULL) return screened;
    const char *text = row_text(screened->row, SCREEN_FINDINGS);
    screened->texts = json_loads(text != NULL ? text : "[]", 0, NULL);
    size_t n = json_array_size(screened->texts);
    screened->findings = g_new0(const char *, n + 1);
    for (size_t i = 0; i < n; i++) {
        const char *finding = json_string_value(json_array_get(screened->texts, i));
        screened->findings[i] = finding != NULL ? finding : "";
    }
    screened->found = (ScreenFound){.floor = row_int(screened->row, SCREEN_FLOOR) != 0,
                                    .findings = screened->findings,
                                    .n_findings = (int)n};
    return screened;
}

void screened_free(Screened *screened)
{
    if (screened == NULL) return;
    row_free(screened->row);
    json_decref(screened->texts);
    g_free(screened->findings);
    g_free(screened);
}
