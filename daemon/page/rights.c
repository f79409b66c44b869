/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/rights.h"

#include <glib.h>
#include <string.h>

/* "*" stands for one part of a path. */
static const struct {
    const char *method;
    const char *path;
    Right right;
    bool shows;
} CALLS[] = {
    {"GET", "/today", RIGHT_ALL, true},
    {"GET", "/roster", RIGHT_ALL, true},
    {"GET", "/programmes", RIGHT_ALL, false},
    {"POST", "/enrolments", RIGHT_CLINICIAN, true},
    {"GET", "/clients", RIGHT_ALL, true},
    {"POST", "/clients", RIGHT_ALL, true},
    {"GET", "/clients/*", RIGHT_ALL, true},
    {"POST", "/clients/*", RIGHT_ALL, true},
    {"POST", "/clients/*/pause", RIGHT_ALL, true},
    {"POST", "/clients/*/resume", RIGHT_ALL, true},
    {"POST", "/clients/*/end", RIGHT_CLINICIAN, true},
    {"POST", "/clients/*/erase", RIGHT_CLINICIAN, true},
    {"POST", "/clients/*/screen", RIGHT_CLINICIAN, true},
    {"POST", "/clients/*/plan", RIGHT_CLINICIAN, true},
    {"GET", "/clients/*/plan", RIGHT_ALL, true},
    {"POST", "/clients/*/plan/move", RIGHT_CLINICIAN, true},
    {"GET", "/clients/*/ready", RIGHT_ALL, true},
    {"POST", "/clients/*/measures", RIGHT_CLINICIAN, true},
    {"GET", "/clients/*/measures", RIGHT_ALL, true},
    {"GET", "/clients/*/sessions", RIGHT_ALL, true},
    {"GET", "/clients/*/course", RIGHT_ALL, true},
    {"POST", "/clients/*/reports", RIGHT_ALL, true},
    {"GET", "/clients/*/adherence", RIGHT_ALL, true},
    {"GET", "/clients/*/course.svg", RIGHT_ALL, true},
    {"GET", "/clients/*/setup.svg", RIGHT_ALL, true},
    {"GET", "/clients/*/handout.pdf", RIGHT_ALL, true},
    {"GET", "/clients/*/summary.pdf", RIGHT_ALL, true},
    {"GET", "/alerts", RIGHT_ALL, true},
    {"POST", "/clients/*/alerts", RIGHT_ALL, true},
    {"POST", "/alerts/*/take", RIGHT_ALL, true},
    {"POST", "/alerts/*/close", RIGHT_ALL, true}, /* the handler keeps holds for clinicians */
    {"GET", "/messages", RIGHT_ALL, true},
    {"GET", "/replies", RIGHT_ALL, true},
    {"GET", "/unread", RIGHT_ALL, true},
    {"POST", "/unread/*/settle", RIGHT_ALL, true},
    {"GET", "/glance", RIGHT_ALL, true},
    {"POST", "/glance/*/seen", RIGHT_ALL, true},
    {"GET", "/calls", RIGHT_ALL, true},
    {"GET", "/week", RIGHT_ALL, true},
    {"GET", "/week.pdf", RIGHT_ALL, true},
    {"GET", "/why/*", RIGHT_ALL, true},
    {"GET", "/status", RIGHT_ALL, false},
    {"GET", "/sync", RIGHT_ALL, false},
};

static bool fits(const char *pattern, const char *path)
{
    g_auto(GStrv) want = g_strsplit(pattern, "/", -1);
    g_auto(GStrv) have = g_strsplit(path, "/", 16);

    if (g_strv_length(want) != g_strv_length(have)) return false;
    for (int i = 0; want[i] != NULL; i++)
        if (strcmp(want[i], "*") != 0 && strcmp(want[i], have[i]) != 0) return false;
    return true;
}

Right right_of(const char *method, const char *path, bool *shows)
{
    *shows = false;
    for (size_t i = 0; i < G_N_ELEMENTS(CALLS); i++) {
        if (strcmp(CALLS[i].method, method) != 0 || !fits(CALLS[i].path, path)) continue;
        *shows = CALLS[i].shows;
        return CALLS[i].right;
    }
    return RIGHT_NONE;
}
