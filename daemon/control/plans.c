/* SPDX-License-Identifier: Apache-2.0 */
/* The plan: set once, moved by a clinician. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/screened.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/known.h"
#include "daemon/jobs/move.h"
#include "daemon/jobs/tell.h"

#define PAGE_DAYS 14
#define CLINICIAN_CHARS 80

/* "08:30,18:30" into a JSON array of texts and seconds, rising. NULL after answering. */
static json_t *read_times(Job *job, Call *call, SessionTimes *times)
{
    const char *at = call_need(call, "at", "--at 08:30[,18:30], the client's own local times");
    json_t *list = json_array();

    g_auto(GStrv) parts = g_strsplit(at != NULL ? at : "", ",", SESSION_TIMES_MAX + 1);
    for (int i = 0; at != NULL && parts[i] != NULL; i++) {
        int32_t second;
        const char *part = g_strstrip(parts[i]);
        if (i >= SESSION_TIMES_MAX || i >= job->clinic->per_day_max)
            call_fail(call, EXIT_DATA, "at", at,
                      "are more times than the daily cap of %d messages allows",
                      job->clinic->per_day_max);
        else if (!clock_time_parse(part, &second))
            call_fail(call, EXIT_DATA, "at", part, "is no time of day; write it as 08:30");
        else if (i > 0 && second <= times->times[i - 1])
            call_fail(call, EXIT_DATA, "at", at, "must rise, each time once");
        else if (quiet_covers(job->clinic->quiet, second))
            call_fail(
                call, EXIT_DATA, "at", part,
                "lies in the quiet hours (%02d:%02d-%02d:%02d on the client's clock); choose a "
                "time outside them",
                job->clinic->quiet.start_second / 3600, job->clinic->quiet.start_second / 60 % 60,
                job->clinic->quiet.end_second / 3600, job->clinic->quiet.end_second / 60 % 60);
        if (call->answer != NULL) break;
        times->times[times->n_times++] = second;
        json_array_append_new(list, json_string(part));
    }
    if (call->answer == NULL) return list;
    json_decref(list);
    return NULL;
}

/* A rule that gives dates: daily, weekly, monthly or yearly. */
static bool check_rule(Job *job, Call *call, const Person *person, const SessionTimes *times)
{
    g_autofree char *why = NULL;

    if (times->rule == NULL) return true;
    if (strstr(times->rule, "FREQ=HOURLY") != NULL ||
        strstr(times->rule, "FREQ=MINUTELY") != NULL ||
        strstr(times->rule, "FREQ=SECONDLY") != NULL || strstr(times->rule, "BYHOUR") != NULL)
        return call_fail(call, EXIT_DATA, "rule", times->rule,
                         "must give dates; the times of day stand in --at");
    g_autoptr(Recurrence) recurrence = recurrence_new(
        times->rule, (LocalTime){times->from, times->times[0]}, person_zone(job, person), &why);
    if (recurrence == NULL) return call_fail(call, EXIT_DATA, "rule", times->rule, "%s", why);
    return true;
}

static bool check_person(Call *call, const Person *person, const Screened *screen)
{
    if (person->ended)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id, "the client has ended");
    if (screen->row == NULL)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id,
                         "no screen yet: a clinician screens first (osier screen %s --by NAME "
                         "--floor yes|no --clear)",
                         person->id);
    if (screen->due)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id,
                         "a fresh screen is due after hospital, fracture or operation (osier "
                         "screen %s --by NAME --floor yes|no --clear)",
                         person->id);
    if (person->channel != CHANNEL_PHONE && !person->consent[person->channel])
        return call_fail(
            call, EXIT_NOT_ALLOWED, "plan", person->id,
            "no consent to %s is recorded (osier client set %s --consent \"%s: how, who, when\")",
            channel_name(person->channel), person->id, channel_name(person->channel));
    return true;
}

static const Stage *named_stage(Call *call, const Programme *programme, const ScreenFound *screen,
                                const char *named)
{
    const Stage *stage = programme_stage(programme, named);
    const char *because = NULL;

    if (stage == NULL)
        call_no_stage(call, programme, named);
    else if (!stage_allowed(programme, stage, screen, &because))
        call_fail(call, EXIT_NOT_ALLOWED, "stage", named, "the screen rules it out: %s", because);
    return call->answer == NULL ? stage : NULL;
}

static void add_value(GString *line, const char *before, const json_t *value, const char *after)
{
    if (json_is_number(value))
        g_string_append_printf(line, "%s%g%s", before, json_number_value(value), after);
    else if (json_is_string(value))
        g_string_append_printf(line, "%s%s%s", before, json_string_value(value), after);
}

/* "leg raise at or below: 44, limit 45; ..." (g_free). */
static char *reasons_line(const json_t *reasons)
{
    GString *line = g_string_new(NULL);
    size_t i;
    json_t *reason;

    json_array_foreach((json_t *)reasons, i, reason)
    {
        g_string_append_printf(line, "%s%s", i > 0 ? "; " : "",
                               json_string_value(json_object_get(reason, "rule")));
        add_value(line, ": ", json_object_get(reason, "value"), "");
        add_value(line, " (", json_object_get(reason, "limit"), ")");
    }
    return g_string_free(line, FALSE);
}

/* The stage: as named, or worked out. NULL after answering. *why gets the reasons (new reference)
 * where worked out. */
static const Stage *choose_stage(Job *job, Call *call, const Person *person,
                                 const Programme *programme, const ScreenFound *screen,
                                 json_t **why)
{
    const char *named = call_text(call, "stage");
    double angle = -1;
    bool there;
    StartAnswer answer = {0};
    StartAsk ask = {.screen = *screen,
                    .felt = call_text(call, "felt"),
                    .leg_cm =
                        person->leg_cm > 0 ? person->leg_cm : person->stature_cm * LEG_PER_STATURE};

    if (!call_number(call, "angle_deg", 0, 180, &angle, &there)) return NULL;
    if (ask.felt != NULL && !g_strv_contains(FELT_PLACES, ask.felt)) {
        call_fail(call, EXIT_USE, "felt", ask.felt,
                  "must be one of calf, knee, thigh, sit-bone, electric");
        return NULL;
    }
    if (named != NULL) return named_stage(call, programme, screen, named);
    ask.angle_deg = there ? angle : -1;
    json_t *known = known_start(job, person, call_text(call, "side"), &ask);
    start_find(programme, &ask, &answer);
    *why = start_json(&answer);
    json_array_extend(known, json_object_get(*why, "reasons"));
    json_object_set_new(*why, "reasons", known);
    if (answer.stage != NULL) return answer.stage;
    g_autofree char *reasons = reasons_line(json_object_get(*why, "reasons"));
    call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id,
              "this client is for the clinician first; name the stage with --stage. %s", reasons);
    return NULL;
}

static void put_programme(Job *job, const Programme *programme)
{
    const char *hash = settings_programme_hash(job->settings, programme->key);
    g_autoptr(Row) known = tx_get_text(job->tx, TABLE_PROGRAMME, hash);

    if (known == NULL)
        tx_append(job->tx, "programme.put", hash, "osier", NULL,
                  json_pack("{s:s, s:s}", "key", programme->key, "text",
                            settings_programme_text(job->settings, programme->key)));
}

/* The fields of plan.set; the times and rule were checked. NULL after answering. */
static json_t *plan_fields(Job *job, Call *call, const Person *person, const Programme *programme,
                           const Stage *stage, const SessionTimes *times, json_t *time_texts)
{
    static const char *const SIDES[] = {"left", "right", "both", NULL};
    const char *side = call_text(call, "side");
    Day review;
    bool there;

    if (side != NULL && !g_strv_contains(SIDES, side)) {
        call_fail(call, EXIT_USE, "side", side, "must be one of left, right, both");
        return NULL;
    }
    if (!call_day(call, "review", &review, &there)) return NULL;
    if (!there) review = times->from + programme->review_weeks * 7;
    g_autofree char *start = day_format(times->from);
    g_autofree char *review_text = day_format(review);
    const char *clinician = call_text(call, "clinician");
    if (review < times->from) {
        call_fail(call, EXIT_DATA, "review", review_text, "lies before the plan's start, %s",
                  start);
        return NULL;
    }
    if (clinician != NULL && !call_words(call, "clinician", clinician, CLINICIAN_CHARS))
        return NULL;
    json_t *body = json_pack(
        "{s:{s:s, s:s, s:s, s:O, s:s, s:s, s:s?, s:s}}", "fields", "programme", programme->key,
        "hash", settings_programme_hash(job->settings, programme->key), "stage", stage->key,
        "times", time_texts, "start", start, "side", side != NULL ? side : "both", "clinician",
        clinician != NULL ? clinician : person->clinician, "review", review_text);
    move_days(json_object_get(body, "fields"), stage, times->rule);
    return body;
}

/* Setting a plan anew is no way round a hold or an open alert: a later stage of the same programme waits for them. What a
 * fresh screen has opened is decided just by this. */
static bool check_later(Job *job, Call *call, const Person *person, const Programme *programme,
                        const Stage *stage)
{
    const Stage *now = g_strcmp0(person->programme, programme->key) == 0 && person->stage != NULL
                           ? programme_stage(programme, person->stage)
                           : NULL;

    return now == NULL || !stage_is_later(programme, stage, now) ||
           move_on_check(job, call, person, stage, SCREEN_MATTER);
}

/* The plan set anew is how it goes on after a screen that changed what suits. */
static void settle_screen(Job *job, const Person *person, const char *by)
{
    g_autoptr(Row) alert = find_open_alert(job->tx, person->id, SCREEN_MATTER);
    const char *why;

    if (alert != NULL)
        alert_close(job, row_text(alert, ALERT_ID), "resume", by, "the plan was set anew", &why);
}

/* A treating clinician who is not on the duty list is called by nobody; most often the name was mistyped. */
static json_t *warnings_of(Job *job, const Person *person)
{
    json_t *warnings = json_array();

    if (person->clinician != NULL && !duty_lists(job->clinic, person->clinician)) {
        g_autofree char *line = g_strdup_printf(
            "%s is not on the duty list: alerts go to those who are", person->clinician);
        json_array_append_new(warnings, json_string(line));
    }
    return warnings;
}

bool handle_plan_set(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Screened) screen = person != NULL ? screened_load(job, person->id) : NULL;
    const char *key = person != NULL ? call_need(call, "programme", "--programme KEY") : NULL;
    SessionTimes times = {.rule = call_text(call, "rule")};
    json_t *why = NULL;
    bool there;

    if (key == NULL || !check_person(call, person, screen)) return false;
    const Programme *programme = settings_programme(job->settings, key);
    if (programme == NULL)
        return call_fail(call, EXIT_DATA, "programme", key,
                         "is no programme of this clinic; osier programme list names them");
    if (!call_day(call, "start", &times.from, &there)) return false;
    if (!there) times.from = zone_local(person_zone(job, person), job->now_ms).day;
    json_t *texts = read_times(job, call, &times);
    if (texts == NULL) return false;
    const Stage *stage = check_rule(job, call, person, &times)
                             ? choose_stage(job, call, person, programme, &screen->found, &why)
                             : NULL;
    if (stage != NULL && !check_later(job, call, person, programme, stage)) stage = NULL;
    json_t *body =
        stage != NULL ? plan_fields(job, call, person, programme, stage, &times, texts) : NULL;
    json_decref(texts);
    if (body != NULL &&
        !plan_own_take(call, programme, stage, &screen->found, json_object_get(body, "fields"))) {
        json_decref(body);
        body = NULL;
    }
    if (body == NULL) {
        json_decref(why);
        return false;
    }
    put_programme(job, programme);
    schedule_overdue(job, person->id);
    g_autofree char *base = find_setting_base(job->tx, person->id);
    tx_append(job->tx, "plan.set", person->id, call_author(call), base, body);
    settle_screen(job, person, call_author(call));
    g_autoptr(Person) planned = person_again(job, person);
    schedule_next(job, planned, job->now_ms - 1);
    course_next(job, planned);
    tell_welcome(job, planned);
    json_t *document = plan_json(job, planned);
    if (why != NULL) json_object_set_new(document, "start_reasons", why);
    json_object_set_new(document, "warnings", warnings_of(job, planned));
    return call_ok(call, document);
}

json_t *plan_json(Job *job, const Person *person)
{
    json_t *times = json_array();
    SessionInstant next;

    if (person->programme == NULL) {
        json_decref(times);
        return json_null();
    }
    const Programme *programme = settings_programme(job->settings, person->programme);
    const Stage *stage = programme != NULL ? programme_stage(programme, person->stage) : NULL;
    for (int i = 0; i < person->times.n_times; i++) {
        g_autofree char *text = g_strdup_printf("%02d:%02d", person->times.times[i] / 3600,
                                                person->times.times[i] / 60 % 60);
        json_array_append_new(times, json_string(text));
    }
    g_autofree char *start = day_format(person->times.from);
    json_t *document = json_pack(
        "{s:s, s:s, s:o, s:o, s:o, s:o, s:s, s:o, s:o, s:o}", "client", person->id, "programme",
        person->programme, "stage", json_text_or_null(person->stage), "title",
        json_text_or_null(stage != NULL ? stage->title : NULL), "at", times, "rule",
        json_text_or_null(person->rule), "start", start, "side", json_text_or_null(person->side),
        "clinician", json_text_or_null(person->clinician), "review",
        json_text_or_null(person->review));
    bool has_next =
        person_has_plan(person) &&
        sessions_after(&person->times, person_zone(job, person), job->now_ms - 1, &next);
    json_object_set_new(document, "days", json_string(person->days_by_stage ? "stage" : "own"));
    json_object_set_new(document, "zone", json_text_or_null(person->zone));
    json_object_set_new(document, "next", has_next ? json_instant(next.ms) : json_null());
    plan_own_json(job, person, document);
    return document;
}

bool handle_plan_show(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    if (person->programme == NULL)
        return call_fail(call, EXIT_NO_SUCH, "plan", person->id, "this client has no plan");
    return call_ok(call, plan_json(job, person));
}
