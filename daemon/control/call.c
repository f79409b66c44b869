/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/call.h"

#include <string.h>

#include "adapters/store/find.h"
#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"

#define BY_CHARS 80

bool call_ok(Call *call, json_t *document)
{
    g_assert(call->answer == NULL);
    call->status = 200;
    call->answer = document;
    return true;
}

bool call_draw(Call *call, Drawing *drawing)
{
    g_assert(call->answer == NULL && call->drawing == NULL);
    call->status = 200;
    call->drawing = drawing;
    return true;
}

bool call_lost(const Job *job)
{
    g_assert(tx_is_lost(job->tx));
    return false;
}

bool call_fail(Call *call, int exit_code, const char *what, const char *value, const char *why, ...)
{
    va_list list;

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    if (call->faults != NULL) {
        json_array_append_new(call->faults, json_pack("{s:s, s:s, s:s}", "what", what, "value",
                                                      value != NULL ? value : "", "why", reason));
    } else if (call->answer == NULL) {
        call->status = answer_status(exit_code);
        call->answer = json_pack("{s:{s:s, s:s, s:s, s:i}}", "error", "what", what, "value",
                                 value != NULL ? value : "", "why", reason, "exit", exit_code);
    }
    return false;
}

const char *call_text(const Call *call, const char *field)
{
    const char *text = json_string_value(json_object_get(call->body, field));

    return text != NULL && *text != '\0' ? text : NULL;
}

const char *call_need(Call *call, const char *field, const char *hint)
{
    const char *text = call_text(call, field);

    if (text == NULL) call_fail(call, EXIT_USE, field, "", "is needed: %s", hint);
    return text;
}

bool call_words(Call *call, const char *field, const char *text, long most)
{
    if (g_utf8_strlen(text, -1) > most)
        return call_fail(call, EXIT_DATA, field, "", "is longer than %ld characters", most);
    for (const char *p = text; *p != '\0'; p = g_utf8_next_char(p))
        if (g_unichar_iscntrl(g_utf8_get_char(p)) && *p != '\n')
            return call_fail(call, EXIT_DATA, field, text, "holds a control character");
    return true;
}

const char *call_by(Call *call, const char *hint)
{
    const char *by = call_need(call, "by", hint);

    if (by == NULL || !call_words(call, "by", by, BY_CHARS)) return NULL;
    if (strchr(by, '\n') == NULL) return by;
    call_fail(call, EXIT_DATA, "by", by, "must be one line");
    return NULL;
}

const char *call_author(const Call *call)
{
    const char *by = call_text(call, "by");

    return by != NULL ? by : "command";
}

bool call_clinician(Call *call, const char *what)
{
    if (!call->desk) return true;
    return call_fail(call, EXIT_NOT_ALLOWED, what, "", "is for a clinician to decide");
}

bool call_number(Call *call, const char *field, double low, double high, double *value, bool *there)
{
    const json_t *given = json_object_get(call->body, field);
    const char *text = json_string_value(given);

    *there = given != NULL && !json_is_null(given);
    if (!*there) return true;
    *value = json_number_value(given);
    if (text != NULL) {
        char *end;
        *value = g_ascii_strtod(text, &end);
        if (end == text || *end != '\0')
            return call_fail(call, EXIT_DATA, field, text, "is no number");
    } else if (!json_is_number(given)) {
        return call_fail(call, EXIT_DATA, field, "", "is no number");
    }
    if (!(*value >= low && *value <= high))
        return call_fail(call, EXIT_DATA, field, text, "must be between %g and %g", low, high);
    return true;
}

bool call_day(Call *call, const char *field, Day *day, bool *there)
{
    const char *text = call_text(call, field);

    *there = text != NULL;
    if (text != NULL && !day_parse(text, day))
        return call_fail(call, EXIT_DATA, field, text, "is no date; write it as 2026-03-02");
    return true;
}

bool call_no_stage(Call *call, const Programme *programme, const char *key)
{
    g_autoptr(GString) keys = g_string_new(NULL);

    for (int i = 0; i < programme_stages(programme); i++)
        g_string_append_printf(keys, "%s%s", i > 0 ? ", " : "",
                               programme_stage_at(programme, i)->key);
    return call_fail(call, EXIT_DATA, "stage", key, "is no stage of %s, which has %s",
                     programme->key, keys->str);
}

char *call_id(Job *job, Call *call, TableId table, const char *what, const char *prefix)
{
    char *id = NULL;
    int found = find_by_prefix(job->tx, table, prefix, &id);

    if (found == 1) return id;
    g_free(id);
    call_fail(call, EXIT_NO_SUCH, what, prefix,
              found == 0 ? "there is none of that id" : "several begin so; give more of the id");
    return NULL;
}

Person *call_person(Job *job, Call *call)
{
    g_autofree char *id = NULL;
    int found = find_client_by_prefix(job->tx, call->id[0], &id);

    if (found == 1) {
        g_free(call->about);
        call->about = g_strdup(id);
        return person_load(job, id);
    }
    call_fail(call, EXIT_NO_SUCH, "client", call->id[0],
              found == 0 ? "there is none of that id; osier client list shows them"
                         : "several begin so; give more of the id");
    return NULL;
}

json_t *json_instant(int64_t ms)
{
    g_autofree char *text = instant_format(ms);

    return json_string(text);
}

json_t *json_local(Job *job, int64_t ms)
{
    g_autofree char *text = local_format(zone_local(job_clinic_zone(job), ms));

    return json_string(text);
}

json_t *json_name_of(Job *job, const char *client)
{
    g_autoptr(Person) person = client != NULL ? person_load(job, client) : NULL;

    return json_text_or_null(person != NULL ? person->name : NULL);
}

json_t *json_text_or_null(const char *text)
{
    return text != NULL ? json_string(text) : json_null();
}

json_t *json_parsed(const char *text)
{
    json_t *value = text != NULL ? json_loads(text, JSON_DECODE_ANY, NULL) : NULL;

    return value != NULL ? value : json_null();
}
