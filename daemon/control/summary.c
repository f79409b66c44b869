/* SPDX-License-Identifier: Apache-2.0 */
/* The summary of one client: what the clinic may want in its own file, as a document and on paper. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "core/paper/record.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/pictures.h"

#define COURSE_DAYS_MOST 728

static json_t *sessions_by_state(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, client, "0000-01-01", "9999-12-31");
    json_t *counts = json_object();

    for (guint i = 0; i < rows->len; i++) {
        const char *state = row_text(rows->pdata[i], SESSION_STATE);
        json_int_t before = json_integer_value(json_object_get(counts, state));
        json_object_set_new(counts, state, json_integer(before + 1));
    }
    return counts;
}

static json_t *alerts_of(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = find_alerts(job->tx, client, true);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, alert_json(rows->pdata[i]));
    return list;
}

static json_t *consents_of(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = find_contacts(job->tx, client);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        if (row_is_null(row, CONTACT_CONSENT)) continue;
        json_array_append_new(
            list, json_pack("{s:s, s:s, s:o, s:o}", "channel", row_text(row, CONTACT_CHANNEL),
                            "how", row_text(row, CONTACT_CONSENT), "by",
                            json_text_or_null(row_text(row, CONTACT_CONSENT_BY)), "at",
                            row_is_null(row, CONTACT_CONSENT_AT)
                                ? json_null()
                                : json_instant(row_int(row, CONTACT_CONSENT_AT))));
    }
    return list;
}

/* --- stages, and who confirmed them ------------------------------------------------------------------ */

typedef struct {
    Job *job;
    json_t *list;
    char *programme; /* as last named */
} Stages;

static const char *title_of(const Stages *stages, const char *key)
{
    const Programme *programme = stages->programme != NULL
                                     ? settings_programme(stages->job->settings, stages->programme)
                                     : NULL;
    const Stage *stage = programme != NULL ? programme_stage(programme, key) : NULL;

    return stage != NULL ? stage->title : key;
}

static bool add_stage(const Event *event, void *context)
{
    Stages *stages = context;
    json_t *body = json_parsed(event->body);
    const json_t *fields = json_object_get(body, "fields");
    const char *programme = json_string_value(json_object_get(fields, "programme"));
    const char *key = json_string_value(json_object_get(fields != NULL ? fields : body, "stage"));

    if (programme != NULL) {
        g_free(stages->programme);
        stages->programme = g_strdup(programme);
    }
    if (key != NULL)
        json_array_append_new(stages->list,
                              json_pack("{s:o, s:s, s:s, s:s, s:o}", "at",
                                        json_instant(event->wall), "stage", key, "title",
                                        title_of(stages, key), "by", event->author, "programme",
                                        json_text_or_null(stages->programme)));
    json_decref(body);
    return true;
}

static json_t *stages_of(Job *job, const char *client)
{
    Stages stages = {.job = job, .list = json_array()};

    tx_events(job->tx, "subject = ?1 AND kind IN ('plan.set', 'plan.move')", add_stage, &stages,
              "t", client);
    g_free(stages.programme);
    return stages.list;
}

static json_t *measures_of(Job *job, const Person *person)
{
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, NULL);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        const char *key = row_text(row, MEASURE_MOVEMENT);
        const Programme *programme = settings_measuring(job->settings, person->programme, key);
        const Measure *measure = programme != NULL ? programme_measure(programme, key) : NULL;
        json_array_append_new(list,
                              json_pack("{s:o, s:s, s:s, s:o, s:o, s:f, s:o, s:o}", "at",
                                        json_instant(row_int(row, MEASURE_AT)), "movement", key,
                                        "title", measure != NULL ? measure->title : key, "side",
                                        json_text_or_null(row_text(row, MEASURE_SIDE)), "method",
                                        json_text_or_null(row_text(row, MEASURE_METHOD)), "value",
                                        row_real(row, MEASURE_VALUE), "unit",
                                        json_text_or_null(row_text(row, MEASURE_UNIT)), "by",
                                        json_text_or_null(row_text(row, MEASURE_BY))));
    }
    return list;
}

/* --- word for word ------------------------------------------------------------------------------------ */

static int by_at(const void *a, const void *b)
{
    const json_t *left = *(json_t *const *)a;
    const json_t *right = *(json_t *const *)b;

    return strcmp(json_string_value(json_object_get(left, "at")),
                  json_string_value(json_object_get(right, "at")));
}

/* To the client and from the client; calls to clinicians are the clinic's own. */
static json_t *words_of(Job *job, const char *client)
{
    g_autoptr(GPtrArray) messages = find_messages(job->tx, client, 0);
    g_autoptr(GPtrArray) replies = find_replies(job->tx, client, NULL, 0);
    g_autoptr(GPtrArray) items = g_ptr_array_new();
    json_t *list = json_array();

    for (guint i = 0; i < messages->len; i++) {
        const Row *row = messages->pdata[i];
        if (strcmp(row_text(row, MESSAGE_KIND), "alert") == 0) continue;
        g_ptr_array_add(items,
                        json_pack("{s:o, s:b, s:s, s:s, s:o}", "at",
                                  json_instant(row_int(row, MESSAGE_AT)), "ours", 1, "kind",
                                  row_text(row, MESSAGE_KIND), "fate", row_text(row, MESSAGE_FATE),
                                  "text", json_text_or_null(row_text(row, MESSAGE_TEXT))));
    }
    for (guint i = 0; i < replies->len; i++) {
        const Row *row = replies->pdata[i];
        g_ptr_array_add(items,
                        json_pack("{s:o, s:b, s:o}", "at", json_instant(row_int(row, REPLY_AT)),
                                  "ours", 0, "text", json_text_or_null(row_text(row, REPLY_TEXT))));
    }
    if (items->len > 1) qsort(items->pdata, items->len, sizeof items->pdata[0], by_at);
    for (guint i = 0; i < items->len; i++)
        json_array_append_new(list, items->pdata[i]);
    return list;
}

json_t *summary_json(Job *job, const Person *person, bool words)
{
    json_t *summary = client_json(person);

    if (person->born > 0) json_object_set_new(summary, "born", json_integer(person->born));
    json_object_set_new(summary, "bars", bars_json(person));
    json_object_set_new(summary, "consents", consents_of(job, person->id));
    json_object_set_new(summary, "screen", screen_json(job, person->id));
    json_object_set_new(summary, "plan", plan_json(job, person));
    json_object_set_new(summary, "stages", stages_of(job, person->id));
    json_object_set_new(summary, "sessions", sessions_by_state(job, person->id));
    json_object_set_new(summary, "measures", measures_of(job, person));
    json_object_set_new(summary, "alerts", alerts_of(job, person->id));
    if (words) json_object_set_new(summary, "words", words_of(job, person->id));
    return summary;
}

static bool wants_words(const Call *call)
{
    return g_strcmp0(call_text(call, "words"), "true") == 0;
}

/* words: true adds the messages both ways, word for word. */
bool handle_client_summary(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    return person != NULL && call_ok(call, summary_json(job, person, wants_words(call)));
}

/* The whole course as far as a picture goes; NULL where nothing was ever asked. */
static Picture *course_of(Job *job, const Person *person, Day today, const Pack *pack)
{
    Day from = pictures_begin(job, person, today - COURSE_DAYS_MOST + 1, today);
    g_autoptr(GPtrArray) rows = find_last_sessions(job->tx, person->id, 1);

    return rows->len > 0 ? pictures_course(job, person, from, today, pack) : NULL;
}

/* The same on paper, in the clinic's language. */
bool handle_client_record(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    const char *paper = call_text(call, "paper");
    bool letter;

    if (person == NULL) return false;
    if (!paper_is_letter(paper, &letter))
        return call_fail(call, EXIT_USE, "paper", paper, "must be one of a4, letter");
    GTimeZone *zone = person_zone(job, person);
    Day today = zone_local(zone, job->now_ms).day;
    json_t *summary = summary_json(job, person, wants_words(call));
    Paper *sheet = record_sheet(pack, summary, zone, job->clinic->name, today,
                                course_of(job, person, today, pack), letter);
    g_autofree char *file = g_strdup_printf("summary-%s.pdf", person->id);
    json_decref(summary);
    sheet->made = instant_format(job->now_ms);
    return call_draw(call, drawing_of_sheet(sheet, file));
}
