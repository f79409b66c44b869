/* SPDX-License-Identifier: Apache-2.0 */
/* Which handler a call of the JSON API goes to. */
#include <string.h>

#include "daemon/control/handlers.h"

static const Endpoint ENDPOINTS[] = {
    {"POST", "/clients", handle_client_add},
    {"GET", "/clients", handle_client_list},
    {"GET", "/clients/{id}", handle_client_show},
    {"POST", "/clients/{id}", handle_client_set},
    {"POST", "/clients/{id}/pause", handle_client_pause},
    {"POST", "/clients/{id}/resume", handle_client_resume},
    {"POST", "/clients/{id}/end", handle_client_end},
    {"POST", "/clients/{id}/same-as", handle_client_same},
    {"GET", "/clients/{id}/summary", handle_client_summary},
    {"POST", "/clients/{id}/erase", handle_client_erase},
    {"POST", "/clients/{id}/screen", handle_screen},
    {"POST", "/clients/{id}/plan", handle_plan_set},
    {"GET", "/clients/{id}/plan", handle_plan_show},
    {"POST", "/clients/{id}/plan/move", handle_plan_move},
    {"GET", "/clients/{id}/ready", handle_ready},
    {"POST", "/clients/{id}/measures", handle_measure_add},
    {"GET", "/clients/{id}/measures", handle_measure_list},
    {"GET", "/clients/{id}/sessions", handle_sessions},
    {"POST", "/clients/{id}/reports", handle_report},
    {"GET", "/clients/{id}/adherence", handle_adherence},
    {"GET", "/alerts", handle_alert_list},
    {"POST", "/clients/{id}/alerts", handle_alert_open},
    {"POST", "/alerts/{id}/take", handle_alert_take},
    {"POST", "/alerts/{id}/close", handle_alert_close},
    {"GET", "/messages", handle_messages},
    {"GET", "/replies", handle_replies},
    {"GET", "/unread", handle_unread},
    {"POST", "/unread/{id}/settle", handle_unread_settle},
    {"GET", "/glance", handle_glance},
    {"POST", "/glance/{id}/seen", handle_glance_seen},
    {"GET", "/calls", handle_calls},
    {"GET", "/week", handle_week},
    {"GET", "/week.pdf", handle_week_paper},
    {"GET", "/why/{id}", handle_why},
    {"GET", "/status", handle_status},
    {"GET", "/today", handle_today},
    {"GET", "/roster", handle_roster},
    {"GET", "/clients/{id}/course", handle_course},
    {"GET", "/clients/{id}/course.svg", handle_course_picture},
    {"GET", "/clients/{id}/setup.svg", handle_setup_picture},
    {"GET", "/clients/{id}/handout.pdf", handle_handout},
    {"GET", "/clients/{id}/summary.pdf", handle_client_record},
    {"GET", "/programmes", handle_programmes},
    {"POST", "/enrolments", handle_enrolment},
    {"GET", "/accounts", handle_account_list},
    {"POST", "/accounts", handle_account_add},
    {"POST", "/accounts/{id}/link", handle_account_link},
    {"POST", "/accounts/{id}/close", handle_account_close},
    {"GET", "/looks", handle_looks},
    {"GET", "/imports", handle_import_list},
    {"GET", "/imports/people", handle_import_people},
    {"POST", "/imports/check", handle_import_check},
    {"POST", "/imports/{id}/rows", handle_import_add},
    {"POST", "/imports/{id}/end", handle_import_end},
    {"POST", "/imports/{id}/undo", handle_import_undo},
    {"GET", "/drafts", handle_draft_list},
    {"POST", "/clients/{id}/draft/confirm", handle_draft_confirm},
    {"POST", "/clients/{id}/draft/drop", handle_draft_drop},
    {"GET", "/clients/{id}/calendar", handle_calendar},
    {"POST", "/clients/{id}/feed", handle_feed_make},
    {"POST", "/clients/{id}/feed/revoke", handle_feed_revoke},
    {"GET", "/reviews", handle_reviews},
    {"GET", "/sync", handle_sync_status},
    {"POST", "/sync/unpair/{id}", handle_sync_unpair},
    {"POST", "/sync/bundle", handle_sync_bundle},
    {"POST", "/sync/take", handle_sync_take},
    {"GET", "/sync/conflicts", handle_conflict_list},
    {"POST", "/sync/settle/{id}", handle_conflict_settle},
    {"GET", "/sender", handle_sender_show},
    {"POST", "/sender", handle_sender_take},
};

/* Does the path fit the endpoint? Fills ids with its {id} parts. */
static bool fits(const Endpoint *endpoint, const char *path, char *ids[2])
{
    g_auto(GStrv) want = g_strsplit(endpoint->path, "/", -1);
    g_auto(GStrv) have = g_strsplit(path, "/", 16);
    int n = 0;

    if (g_strv_length(want) != g_strv_length(have)) return false;
    for (int i = 0; want[i] != NULL; i++)
        if (strcmp(want[i], "{id}") != 0 && strcmp(want[i], have[i]) != 0) return false;
    for (int i = 0; want[i] != NULL && n < 2; i++)
        if (strcmp(want[i], "{id}") == 0) ids[n++] = g_strdup(have[i]);
    return true;
}

const Endpoint *endpoint_find(const char *method, const char *path, char *ids[2], bool *known_path)
{
    *known_path = false;
    for (size_t i = 0; i < G_N_ELEMENTS(ENDPOINTS); i++) {
        char *found[2] = {NULL, NULL};
        if (!fits(&ENDPOINTS[i], path, found)) continue;
        *known_path = true;
        if (strcmp(ENDPOINTS[i].method, method) == 0) {
            ids[0] = found[0];
            ids[1] = found[1];
            return &ENDPOINTS[i];
        }
        g_free(found[0]);
        g_free(found[1]);
    }
    return NULL;
}
