/* SPDX-License-Identifier: Apache-2.0 */
/* A client, the screen and the plan in one go: shown with the first week's times and texts before
 * anything is kept, or kept as a whole. What is shown is what would be written: it is written, and
 * undone. */
#include <string.h>

#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/words.h"

#define WEEK_DAYS 7

/* --- what a form may offer ---------------------------------------------------------------------- */

/* text: words that the programme reads as this finding. */
static json_t *findings_json(const Programme *programme)
{
    json_t *list = json_array();

    for (guint i = 0; i < programme->findings->len; i++) {
        const Finding *finding = programme->findings->pdata[i];
        const char *text = finding->words != NULL && finding->words->len > 0
                               ? finding->words->pdata[0]
                               : finding->key;
        json_array_append_new(list, json_pack("{s:s, s:s, s:s, s:b}", "key", finding->key, "ask",
                                              finding->ask, "text", text, "clinician",
                                              (int)finding->clinician));
    }
    return list;
}

static json_t *measures_json(const Programme *programme)
{
    json_t *list = json_array();

    for (guint i = 0; i < programme->measures->len; i++) {
        const Measure *measure = programme->measures->pdata[i];
        json_t *methods = json_array();
        for (guint j = 0; j < measure->methods->len; j++) {
            const Method *method = measure->methods->pdata[j];
            json_array_append_new(
                methods, json_pack("{s:s, s:s}", "key", method->key, "title", method->title));
        }
        json_array_append_new(list,
                              json_pack("{s:s, s:s, s:s, s:o}", "key", measure->key, "title",
                                        measure->title, "unit", measure->unit, "methods", methods));
    }
    return list;
}

static json_t *programme_json(const Programme *programme)
{
    json_t *stages = json_array();

    for (int i = 0; i < programme_stages(programme); i++) {
        const Stage *stage = programme_stage_at(programme, i);
        json_array_append_new(stages,
                              json_pack("{s:s, s:s}", "key", stage->key, "title", stage->title));
    }
    return json_pack("{s:s, s:s, s:o, s:o, s:o}", "key", programme->key, "title", programme->title,
                     "stages", stages, "findings", findings_json(programme), "measures",
                     measures_json(programme));
}

static json_t *languages_json(const Job *job)
{
    g_autoptr(GPtrArray) packs = settings_packs(job->settings, job->clinic->language);
    json_t *list = json_array();

    for (guint i = 0; i < packs->len; i++)
        json_array_append_new(list, json_string(pack_language(packs->pdata[i])));
    return list;
}

bool handle_programmes(Job *job, Call *call)
{
    const Clinic *clinic = job->clinic;
    json_t *programmes = json_array();
    json_t *clinicians = json_array();

    for (guint i = 0; i < settings_programmes(job->settings); i++)
        json_array_append_new(programmes, programme_json(settings_programme_at(job->settings, i)));
    for (guint i = 0; i < clinic->duty->len; i++)
        json_array_append_new(clinicians,
                              json_string(((DutyPerson *)clinic->duty->pdata[i])->name));
    g_autofree char *today = day_format(zone_local(job_clinic_zone(job), job->now_ms).day);
    return call_ok(call,
                   json_pack("{s:o, s:o, s:o, s:s, s:s, s:i, s:i, s:i, s:s}", "programmes",
                             programmes, "clinicians", clinicians, "languages", languages_json(job),
                             "language", clinic->language, "zone", clinic->zone, "quiet_start",
                             clinic->quiet.start_second, "quiet_end", clinic->quiet.end_second,
                             "per_day_max", clinic->per_day_max, "today", today));
}

/* --- the three steps ---------------------------------------------------------------------------- */

/* Runs a handler on one part of the body. Its answer (new reference), or NULL with the fault as the
 * whole call's. */
static json_t *run_part(Job *job, Call *call, const char *part, const char *id,
                        CallHandler *handler)
{
    const json_t *given = json_object_get(call->body, part);
    Call own = {.id = {g_strdup(id), NULL},
                .body = json_is_object(given) ? json_deep_copy(given) : json_object(),
                .page = call->page,
                .desk = call->desk};
    json_t *by = json_object_get(call->body, "by");

    if (by != NULL) json_object_set(own.body, "by", by);
    bool kept = handler(job, &own);
    json_t *answer = g_steal_pointer(&own.answer);
    g_free(own.id[0]);
    g_free(own.about);
    json_decref(own.body);
    if (kept) return answer;
    if (answer != NULL) json_object_set_new(answer, "part", json_string(part));
    call->status = own.status;
    call->answer = answer;
    return NULL;
}

/* The client of the call: one that is there (client.id), or a new one. The id (g_free), or NULL. */
static char *client_of(Job *job, Call *call, json_t *document)
{
    const char *known =
        json_string_value(json_object_get(json_object_get(call->body, "client"), "id"));

    if (known != NULL) {
        g_free(call->id[0]);
        call->id[0] = g_strdup(known);
        g_autoptr(Person) person = call_person(job, call);
        return person != NULL ? g_strdup(person->id) : NULL;
    }
    json_t *added = run_part(job, call, "client", NULL, handle_client_add);
    if (added == NULL) return NULL;
    char *id = g_strdup(json_string_value(json_object_get(added, "client")));
    json_object_set(document, "warnings", json_object_get(added, "warnings"));
    json_decref(added);
    return id;
}

/* --- what would happen -------------------------------------------------------------------------- */

static json_t *worded_json(Worded *words)
{
    json_t *text = json_text_or_null(words->text);

    worded_clear(words);
    return text;
}

/* The sessions of the first week with the text that each is asked by. */
static json_t *first_week(const Job *job, const Person *person)
{
    g_autoptr(GArray) sessions = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    Job then = *job;
    GTimeZone *zone = person_zone(&then, person);
    Day from = MAX(zone_local(zone, job->now_ms).day, person->times.from);
    json_t *list = json_array();

    sessions_on(&person->times, zone, from, WEEK_DAYS, sessions);
    for (guint i = 0; i < sessions->len; i++) {
        const SessionInstant *instant = &g_array_index(sessions, SessionInstant, i);
        Worded words = {0};
        if (instant->ms < job->now_ms) continue;
        then.now_ms = instant->ms;
        if (person->channel != CHANNEL_PHONE) words_reminder(&then, person, &words);
        g_autofree char *local = local_format(instant->local);
        g_autofree char *date = day_format(instant->date);
        json_array_append_new(list,
                              json_pack("{s:s, s:i, s:s, s:s, s:o, s:o}", "date", date, "slot",
                                        instant->slot, "local", local, "zone", person->zone, "utc",
                                        json_instant(instant->ms), "text", worded_json(&words)));
    }
    return list;
}

static void describe(Job *job, const char *client, json_t *document)
{
    g_autoptr(Person) person = person_load(job, client);
    Worded words = {0};

    if (person == NULL) return; /* the store has gone away */
    if (person->channel != CHANNEL_PHONE) words_welcome(job, person, &words);
    json_object_set_new(document, "welcome", worded_json(&words));
    json_object_set_new(document, "first_week", first_week(job, person));
    json_object_set_new(document, "channel", json_string(channel_name(person->channel)));
}

/* client {fields of POST /clients, or id}, screen, plan; save: keep it, else only show. A screen may
 * be left out where the client has one. */
bool handle_enrolment(Job *job, Call *call)
{
    bool save = json_is_true(json_object_get(call->body, "save"));
    json_t *document = json_object();
    g_autofree char *id = client_of(job, call, document);
    json_t *screen = NULL;
    json_t *plan = NULL;

    if (id != NULL) {
        bool screened = json_object_get(call->body, "screen") != NULL;
        if (screened) screen = run_part(job, call, "screen", id, handle_screen);
        if (!screened || screen != NULL) plan = run_part(job, call, "plan", id, handle_plan_set);
    }
    json_decref(screen);
    if (plan == NULL) {
        json_decref(document);
        return false;
    }
    g_free(call->about);
    call->about = g_strdup(id);
    json_object_set_new(document, "client", save ? json_string(id) : json_null());
    json_object_set_new(document, "saved", json_boolean(save));
    json_object_set_new(document, "plan", plan);
    describe(job, id, document);
    call_ok(call, document);
    return save;
}
