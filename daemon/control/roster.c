/* SPDX-License-Identifier: Apache-2.0 */
/* The clients at a glance, a screenful at a time, and the course of one. */
#include <string.h>

#include "adapters/store/find_day.h"
#include "adapters/store/find_record.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/session_told.h"

#define SHOWN 30
#define WEEKS_DAYS 28
#define COURSE_DAYS 56
#define COURSE_DAYS_MOST 800
#define SKIP_MOST 1000000

typedef struct {
    const char *id;
    char *name;
    char *key; /* by which names are put in order */
} Entry;

static void entry_free(void *gone)
{
    Entry *entry = gone;

    g_free(entry->name);
    g_free(entry->key);
    g_free(entry);
}

static int by_name(const void *a, const void *b)
{
    const Entry *left = *(Entry *const *)a;
    const Entry *right = *(Entry *const *)b;
    int order = strcmp(left->key, right->key);

    return order != 0 ? order : strcmp(left->id, right->id);
}

/* The clients whose name or id holds the words, in order of their names. ids are lent by names. */
static GPtrArray *entries_of(const GPtrArray *names, const char *wanted)
{
    GPtrArray *entries = g_ptr_array_new_with_free_func(entry_free);
    g_autofree char *folded = g_utf8_casefold(wanted != NULL ? wanted : "", -1);

    for (guint i = 0; i < names->len; i++) {
        char **pair = names->pdata[i];
        json_t *text = json_parsed(pair[1]);
        const char *name = json_is_string(text) ? json_string_value(text) : pair[0];
        g_autofree char *case_folded = g_utf8_casefold(name, -1);
        g_autofree char *id = g_utf8_casefold(pair[0], -1);
        if (strstr(case_folded, folded) != NULL || g_str_has_prefix(id, folded)) {
            Entry *entry = g_new0(Entry, 1);
            *entry = (Entry){pair[0], g_strdup(name), g_utf8_collate_key(case_folded, -1)};
            g_ptr_array_add(entries, entry);
        }
        json_decref(text);
    }
    if (entries->len > 1) qsort(entries->pdata, entries->len, sizeof entries->pdata[0], by_name);
    return entries;
}

static char letter_of(const char *state)
{
    static const struct {
        const char *state;
        char letter;
    } LETTERS[] = {{"done", 'd'},    {"partly", 'p'},  {"not", 'n'},  {"silent", 's'},
                   {"unasked", 'u'}, {"excused", 'e'}, {"asked", 'a'}};

    for (size_t i = 0; i < G_N_ELEMENTS(LETTERS); i++)
        if (g_strcmp0(LETTERS[i].state, state) == 0) return LETTERS[i].letter;
    return '?';
}

/* A text for each of the last four weeks' days, with a letter for each session. */
static json_t *days_json(Job *job, const char *client, Day today)
{
    g_autofree char *from = day_format(today - WEEKS_DAYS + 1);
    g_autofree char *to = day_format(today);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, client, from, to);
    json_t *list = json_array();
    guint at = 0;

    for (Day day = today - WEEKS_DAYS + 1; day <= today; day++) {
        g_autofree char *date = day_format(day);
        g_autoptr(GString) states = g_string_new(NULL);
        for (; at < rows->len && strcmp(row_text(rows->pdata[at], SESSION_DATE), date) == 0; at++)
            g_string_append_c(states, letter_of(row_text(rows->pdata[at], SESSION_STATE)));
        json_array_append_new(list, json_string(states->str));
    }
    return list;
}

static json_t *entry_json(Job *job, const char *client)
{
    g_autoptr(Person) person = person_load(job, client);
    if (person == NULL) return NULL; /* the store has gone away */
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, client, false);
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    json_t *document = client_json(person);
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;
    const Stage *stage = programme != NULL && person->stage != NULL
                             ? programme_stage(programme, person->stage)
                             : NULL;

    json_object_set_new(document, "title", json_text_or_null(stage != NULL ? stage->title : NULL));
    json_object_set_new(document, "clinician", json_text_or_null(person->clinician));
    json_object_set_new(document, "alerts", json_integer(alerts->len));
    json_object_set_new(document, "days", days_json(job, client, today));
    return document;
}

/* name: words that the name, or the beginning of the id, must hold; skip: so many of those first. */
bool handle_roster(Job *job, Call *call)
{
    g_autoptr(GPtrArray) names = find_names(job->tx);
    g_autoptr(GPtrArray) entries = entries_of(names, call_text(call, "name"));
    json_t *list = json_array();
    double skip = 0;
    bool there;

    if (!call_number(call, "skip", 0, SKIP_MOST, &skip, &there)) {
        json_decref(list);
        return false;
    }
    for (guint i = (guint)skip; i < entries->len && i < (guint)skip + SHOWN; i++)
        json_array_append_new(list, entry_json(job, ((Entry *)entries->pdata[i])->id));
    return call_ok(call,
                   json_pack("{s:I, s:I, s:i, s:o}", "clients", (json_int_t)names->len, "found",
                             (json_int_t)entries->len, "shown", SHOWN, "list", list));
}

/* --- one client --------------------------------------------------------------------------------- */

static json_t *session_json(GHashTable *all, const Row *row)
{
    SessionTold told = session_told_of(all, row_text(row, SESSION_ID));
    json_t *document = json_pack("{s:s, s:I, s:o, s:s, s:o}", "date", row_text(row, SESSION_DATE),
                                 "slot", (json_int_t)row_int(row, SESSION_SLOT), "local",
                                 json_text_or_null(row_text(row, SESSION_LOCAL)), "state",
                                 row_text(row, SESSION_STATE), "stage",
                                 json_text_or_null(row_text(row, SESSION_STAGE)));

    session_told_put(told, document);
    return document;
}

/* days: so many up to today. */
bool handle_course(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    double days = COURSE_DAYS;
    bool there;

    if (person == NULL || !call_number(call, "days", 1, COURSE_DAYS_MOST, &days, &there))
        return false;
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    g_autofree char *from = day_format(today - (Day)days + 1);
    g_autofree char *to = day_format(today);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, person->id, from, to);
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, person->id, true);
    g_autoptr(GHashTable) told = session_told_load(job, person->id, today - (Day)days + 1);
    json_t *list = json_array();
    json_t *matters = json_array();
    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, session_json(told, rows->pdata[i]));
    for (guint i = 0; i < alerts->len; i++)
        json_array_append_new(matters, alert_json(alerts->pdata[i]));
    g_autoptr(Picture) picture = course_picture(job, person, (int)days);
    return call_ok(call,
                   json_pack("{s:s, s:s, s:s, s:s, s:o, s:o}", "client", person->id, "from", from,
                             "to", to, "words", picture->alt, "sessions", list, "alerts", matters));
}
