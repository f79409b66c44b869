/* SPDX-License-Identifier: Apache-2.0 */
/* What keeps messages from a client, and the screen without which no plan starts. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_work.h"
#include "core/practice/readiness.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/screened.h"
#include "daemon/jobs/tell.h"

#define FINDINGS_MOST 20
#define FINDING_CHARS 400

static const char *who(const Call *call)
{
    const char *by = call_text(call, "by");

    return by != NULL ? by : "command";
}

bool handle_client_pause(Job *job, Call *call)
{
    static const char *const WHYS[] = {"away",      "illness", "hospital", "fracture",
                                       "operation", "other",   NULL};
    g_autoptr(Person) person = call_person(job, call);
    const char *why = call_text(call, "why");
    Day until;
    bool there;

    if (person == NULL || !call_day(call, "until", &until, &there)) return false;
    if (!there)
        return call_fail(call, EXIT_USE, "until", "",
                         "is needed: the last day of the pause, --until 2026-03-14");
    if (why == NULL || !g_strv_contains(WHYS, why))
        return call_fail(call, EXIT_USE, "why", why,
                         "is one of away, illness, hospital, fracture, operation, other");
    GTimeZone *zone = person_zone(job, person);
    int64_t over_ms = zone_instant(zone, (LocalTime){.day = until + 1}, NULL);
    if (over_ms <= job->now_ms)
        return call_fail(call, EXIT_DATA, "until", call_text(call, "until"), "has passed");
    g_autofree char *id =
        g_strdup(tx_append(job->tx, "client.pause", person->id, who(call), NULL,
                           json_pack("{s:I, s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "until",
                                     (json_int_t)over_ms, "why", why, "by", who(call))));
    /* After hospital, fracture or operation a clinician screens first: such a pause does not run out by itself. */
    if (!absence_needs_screen(why)) due_set(job->tx, "pause", id, over_ms, person->id, NULL);
    return call_ok(call, json_pack("{s:s, s:s, s:o}", "client", person->id, "pause", id, "until",
                                   json_string(call_text(call, "until"))));
}

bool handle_client_resume(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    g_autoptr(Screened) screen = screened_load(job, person->id);
    if (person->paused && screen->row != NULL && screen->due)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id,
                         "a fresh screen is due after hospital, fracture or operation: osier "
                         "screen %s --by NAME --floor yes|no ..., then resume",
                         person->id);
    json_t *ends = person_bars(person, "pause");
    json_t *suspends = person_bars(person, "suspend");
    json_array_extend(ends, suspends);
    json_decref(suspends);
    size_t n = json_array_size(ends);
    if (n == 0) {
        json_decref(ends);
        return call_fail(call, EXIT_DATA, "client", person->id,
                         "is neither paused nor suspended; a hold ends with its alert (osier alert "
                         "close), an opt-out by "
                         "START from the client");
    }
    tx_append(
        job->tx, "client.resume", person->id, who(call), NULL,
        json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", who(call)));
    return call_ok(call, json_pack("{s:s, s:I}", "client", person->id, "lifted", (json_int_t)n));
}

bool handle_client_end(Job *job, Call *call)
{
    static const char *const WHYS[] = {"finished", "asked", "moved", "died", NULL};
    g_autoptr(Person) person = call_person(job, call);
    const char *why = call_text(call, "why");

    if (person == NULL) return false;
    if (why == NULL || !g_strv_contains(WHYS, why))
        return call_fail(call, EXIT_USE, "why", why, "is one of finished, asked, moved, died");
    if (person->ended) return call_fail(call, EXIT_DATA, "client", person->id, "has ended already");
    tell_goodbye(job, person, why, job->now_ms);
    tx_append(
        job->tx, "client.end", person->id, who(call), NULL,
        json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", why, "by", who(call)));
    due_drop(job->tx, "session", person->id);
    return call_ok(call, json_pack("{s:s, s:s}", "client", person->id, "why", why));
}

/* Findings are texts. False after answering. */
static bool check_findings(Call *call, const json_t *findings)
{
    size_t i;
    json_t *finding;

    if (findings != NULL && !json_is_array(findings))
        return call_fail(call, EXIT_DATA, "findings", "", "must be a list of texts");
    if (json_array_size(findings) > FINDINGS_MOST)
        return call_fail(call, EXIT_DATA, "findings", "", "are more than %d", FINDINGS_MOST);
    json_array_foreach((json_t *)findings, i, finding)
    {
        const char *text = json_string_value(finding);
        if (text == NULL || *text == '\0')
            return call_fail(call, EXIT_DATA, "findings", "", "must be texts, none of them empty");
        if (!call_words(call, "findings", text, FINDING_CHARS)) return false;
    }
    return true;
}

bool handle_screen(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by = person != NULL ? call_by(call, "--by NAME, the clinician who screened") : NULL;
    const char *floor = call_text(call, "floor");
    const json_t *findings = json_object_get(call->body, "findings");
    bool clear = json_is_true(json_object_get(call->body, "clear"));

    if (by == NULL || !check_findings(call, findings)) return false;
    if (floor == NULL || (strcmp(floor, "yes") != 0 && strcmp(floor, "no") != 0))
        return call_fail(call, EXIT_USE, "floor", floor,
                         "is yes or no: can the client get down to the floor and up again alone?");
    if (clear == (json_array_size(findings) > 0))
        return call_fail(call, EXIT_USE, "screen", "",
                         "give either --clear or at least one --finding TEXT");
    const char *id =
        tx_append(job->tx, "screen.done", person->id, by, NULL,
                  json_pack("{s:I, s:s, s:b, s:b, s:o}", "at", (json_int_t)job->now_ms, "by", by,
                            "floor", strcmp(floor, "yes") == 0, "clear", clear, "findings",
                            json_is_array(findings) ? json_deep_copy(findings) : json_array()));
    return call_ok(call, json_pack("{s:s, s:s}", "client", person->id, "screen", id));
}

json_t *screen_json(Job *job, const char *client)
{
    g_autoptr(Row) screen = find_screen(job->tx, client);

    if (screen == NULL) return json_null();
    return json_pack("{s:o, s:s, s:o, s:o, s:o}", "at", json_instant(row_int(screen, SCREEN_AT)),
                     "by", row_text(screen, SCREEN_BY), "floor",
                     json_boolean(row_int(screen, SCREEN_FLOOR) != 0), "clear",
                     json_boolean(row_int(screen, SCREEN_CLEAR) != 0), "findings",
                     json_parsed(row_text(screen, SCREEN_FINDINGS)));
}
