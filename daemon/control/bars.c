/* SPDX-License-Identifier: Apache-2.0 */
/* What keeps messages from a client. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_work.h"
#include "core/practice/readiness.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/screened.h"
#include "daemon/jobs/consent.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/tell.h"

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
                         "must be one of away, illness, hospital, fracture, operation, other");
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

/* Days that were not to come while a bar stood are worked out anew. */
static void go_on(Job *job, const Person *person)
{
    g_autoptr(Person) after = person_again(job, person);

    course_next(job, after);
}

/* A client who had stopped asked somebody for the texts again, on the telephone or at a visit. That is consent too, which a click
 * or a long silence may have ended. */
static bool begin_again(Job *job, Call *call, const Person *person, const char *asked)
{
    enum { ASKED_CHARS = 200 };
    const char *by = call_by(call, "--by NAME");

    if (by == NULL || !call_words(call, "asked", asked, ASKED_CHARS)) return false;
    if (*asked == '\0')
        return call_fail(call, EXIT_DATA, "asked", asked,
                         "must say how and when, --asked \"rang, 2026-03-02\"");
    if (!person->stopped)
        return call_fail(call, EXIT_DATA, "client", person->id, "has not ended the texts");
    json_t *ends = person_bars(person, "stop");
    size_t n = json_array_size(ends);
    tx_append(job->tx, "client.start", person->id, by, NULL,
              json_pack("{s:o, s:I, s:s, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by",
                        by, "asked", asked));
    tx_append(job->tx, "client.consent", person->id, by, NULL,
              json_pack("{s:s, s:s, s:s, s:I}", "channel", channel_name(person->channel), "text",
                        asked, "by", by, "at", (json_int_t)job->now_ms));
    go_on(job, person);
    return call_ok(call, json_pack("{s:s, s:I}", "client", person->id, "lifted", (json_int_t)n));
}

bool handle_client_resume(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *asked = call_text(call, "asked");

    if (person == NULL) return false;
    if (asked != NULL) return begin_again(job, call, person, asked);
    g_autoptr(Screened) screen = screened_load(job, person->id);
    if (person->paused && screen->row != NULL && screen->due)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id,
                         "a fresh screen is due after hospital, fracture or operation: osier "
                         "screen %s --by NAME --floor yes|no ..., then resume",
                         person->id);
    if (consent_is_out(job, person))
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id,
                         "has not been heard of for so long that consent is to be given anew: "
                         "osier client set %s --consent \"sms: how, by whom, when\", then resume",
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
                         "close), an opt-out by START from the client, or with --asked \"how, "
                         "when\" where the client asked somebody for the texts again");
    }
    tx_append(
        job->tx, "client.resume", person->id, who(call), NULL,
        json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", who(call)));
    go_on(job, person);
    return call_ok(call, json_pack("{s:s, s:I}", "client", person->id, "lifted", (json_int_t)n));
}

bool handle_client_end(Job *job, Call *call)
{
    static const char *const WHYS[] = {"finished", "asked", "moved", "died", NULL};
    g_autoptr(Person) person = call_person(job, call);
    const char *why = call_text(call, "why");

    if (person == NULL) return false;
    if (why == NULL || !g_strv_contains(WHYS, why))
        return call_fail(call, EXIT_USE, "why", why, "must be one of finished, asked, moved, died");
    if (person->ended) return call_fail(call, EXIT_DATA, "client", person->id, "has ended already");
    tell_goodbye(job, person, why, job->now_ms);
    tx_append(
        job->tx, "client.end", person->id, who(call), NULL,
        json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", why, "by", who(call)));
    due_drop(job->tx, "session", person->id);
    return call_ok(call, json_pack("{s:s, s:s}", "client", person->id, "why", why));
}
