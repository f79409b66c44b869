/* SPDX-License-Identifier: Apache-2.0 */
/* The plan: set once, moved by a clinician. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "core/practice/start.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

#define PAGE_DAYS 14

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

static bool check_person(Job *job, Call *call, const Person *person, Row **screen)
{
    *screen = find_screen(job->tx, person->id);
    if (person->ended)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id, "the client has ended");
    if (*screen == NULL)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id,
                         "no screen yet: a clinician screens first (osier screen %s --by NAME "
                         "--floor yes|no --clear)",
                         person->id);
    if (person->channel != CHANNEL_PHONE && !person->consent[person->channel])
        return call_fail(
            call, EXIT_NOT_ALLOWED, "plan", person->id,
            "no consent to %s is recorded (osier client set %s --consent \"%s: how, who, when\")",
            channel_name(person->channel), person->id, channel_name(person->channel));
    return true;
}

static const char *text_of(const json_t *value)
{
    const char *text = json_string_value(value);

    return text != NULL ? text : "";
}

/* A screen as the practice room reads it. */
typedef struct {
    ScreenFound found;
    json_t *findings;
    const char **texts;
} Screening;

static Screening screening_of(const Row *screen)
{
    Screening screening = {.findings = json_parsed(row_text(screen, SCREEN_FINDINGS))};
    size_t n = json_array_size(screening.findings);

    screening.texts = g_new0(const char *, n + 1);
    for (size_t i = 0; i < n; i++)
        screening.texts[i] = text_of(json_array_get(screening.findings, i));
    screening.found = (ScreenFound){.floor = row_int(screen, SCREEN_FLOOR) != 0,
                                    .findings = screening.texts,
                                    .n_findings = (int)n};
    return screening;
}

static void screening_clear(Screening *screening)
{
    g_free(screening->texts);
    json_decref(screening->findings);
}

/* May this client be at that stage, by the screen? False after answering. */
static bool check_stage(Call *call, const Programme *programme, const Stage *stage,
                        const ScreenFound *found)
{
    const char *because = NULL;

    if (stage_allowed(programme, stage, found, &because)) return true;
    return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key, "the screen rules it out: %s",
                     because);
}

/* The stage: as named, or worked out. NULL after answering. *why gets the reasons (new reference)
 * where worked out. */
static const Stage *choose_stage(Call *call, const Person *person, const Programme *programme,
                                 const Row *screen, json_t **why)
{
    const char *named = call_text(call, "stage");
    Screening screening = screening_of(screen);
    double angle = -1;
    bool there;
    StartAnswer answer = {0};
    const Stage *stage = NULL;

    StartAsk ask = {.screen = screening.found,
                    .felt = call_text(call, "felt"),
                    .leg_cm = person->leg_cm > 0 ? person->leg_cm : person->stature_cm * 0.530};
    bool good = call_number(call, "angle_deg", 0, 180, &angle, &there);
    if (ask.felt != NULL && !g_strv_contains(FELT_PLACES, ask.felt))
        good = call_fail(call, EXIT_USE, "felt", ask.felt,
                         "is one of calf, knee, thigh, sit-bone, electric");
    if (good && named != NULL) {
        stage = programme_stage(programme, named);
        if (stage == NULL)
            call_fail(call, EXIT_DATA, "stage", named, "is no stage of %s", programme->key);
        else if (!check_stage(call, programme, stage, &screening.found))
            stage = NULL;
    } else if (good) {
        ask.angle_deg = there ? angle : -1;
        start_find(programme, &ask, &answer);
        *why = start_json(&answer);
        stage = answer.stage;
        if (stage == NULL) {
            g_autofree char *reasons = json_dumps(json_object_get(*why, "reasons"), JSON_COMPACT);
            call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id,
                      "this client is for the clinician first; name the stage with --stage. %s",
                      reasons);
        }
    }
    screening_clear(&screening);
    return stage;
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

static void welcome(Job *job, const Person *person)
{
    g_autofree char *purpose = g_strconcat("welcome/", person->id, NULL);
    Worded words;

    words_welcome(job, person, &words);
    g_free(post_client(job, person,
                       &(Post){.kind = MESSAGE_WELCOME,
                               .purpose = purpose,
                               .text = words.text,
                               .subject = words.subject,
                               .end_ms = job->now_ms + 2 * DAY_MS}));
    worded_clear(&words);
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
        call_fail(call, EXIT_USE, "side", side, "is one of left, right, both");
        return NULL;
    }
    if (!call_day(call, "review", &review, &there)) return NULL;
    if (!there) review = times->from + programme->review_weeks * 7;
    g_autofree char *start = day_format(times->from);
    g_autofree char *review_text = day_format(review);
    const char *clinician = call_text(call, "clinician");
    (void)job;
    return json_pack("{s:{s:s, s:s, s:s, s:O, s:s?, s:s, s:s, s:s?, s:s}}", "fields", "programme",
                     programme->key, "hash", settings_programme_hash(job->settings, programme->key),
                     "stage", stage->key, "times", time_texts, "rule", times->rule, "start", start,
                     "side", side != NULL ? side : "both", "clinician",
                     clinician != NULL ? clinician : person->clinician, "review", review_text);
}

bool handle_plan_set(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Row) screen = NULL;
    const char *key = person != NULL ? call_need(call, "programme", "--programme KEY") : NULL;
    SessionTimes times = {.rule = call_text(call, "rule")};
    json_t *why = NULL;
    bool there;

    if (key == NULL || !check_person(job, call, person, &screen)) return false;
    const Programme *programme = settings_programme(job->settings, key);
    if (programme == NULL)
        return call_fail(call, EXIT_DATA, "programme", key, "is no programme of this clinic");
    if (!call_day(call, "start", &times.from, &there)) return false;
    if (!there) times.from = zone_local(person_zone(job, person), job->now_ms).day;
    json_t *texts = read_times(job, call, &times);
    if (texts == NULL) return false;
    const Stage *stage = check_rule(job, call, person, &times)
                             ? choose_stage(call, person, programme, screen, &why)
                             : NULL;
    json_t *body =
        stage != NULL ? plan_fields(job, call, person, programme, stage, &times, texts) : NULL;
    json_decref(texts);
    if (body == NULL) {
        json_decref(why);
        return false;
    }
    put_programme(job, programme);
    tx_append(job->tx, "plan.set", person->id, "command", NULL, body);
    g_autoptr(Person) planned = person_load(job, person->id);
    schedule_next(job, planned, job->now_ms - 1);
    if (planned->channel != CHANNEL_PHONE) welcome(job, planned);
    json_t *document = plan_json(job, planned);
    if (why != NULL) json_object_set_new(document, "start_reasons", why);
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
    json_object_set_new(document, "next", has_next ? json_instant(next.ms) : json_null());
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

bool handle_plan_move(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *key = person != NULL ? call_need(call, "stage", "--stage KEY") : NULL;
    const char *by = key != NULL ? call_by(call, "--by NAME, the clinician who decides") : NULL;

    if (by == NULL) return false;
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;
    if (programme == NULL)
        return call_fail(call, EXIT_NO_SUCH, "plan", person->id, "this client has no plan to move");
    const Stage *stage = programme_stage(programme, key);
    if (stage == NULL)
        return call_fail(call, EXIT_DATA, "stage", key, "is no stage of %s", programme->key);
    g_autoptr(Row) screen = find_screen(job->tx, person->id);
    if (screen == NULL)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id, "no screen is recorded");
    Screening screening = screening_of(screen);
    bool allowed = check_stage(call, programme, stage, &screening.found);
    screening_clear(&screening);
    if (!allowed) return false;
    tx_append(job->tx, "plan.move", person->id, by, NULL,
              json_pack("{s:s, s:s}", "stage", key, "by", by));
    g_autoptr(Person) moved = person_load(job, person->id);
    return call_ok(call, plan_json(job, moved));
}
