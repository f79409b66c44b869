/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/words.h"

#include <string.h>

#include "core/talk/texts.h"
#include "core/talk/wording.h"
#include "core/watch/matter.h"
#include "daemon/jobs/pictures.h"
#include "daemon/jobs/sharers.h"

#define STRANGER_SHOWN 3 /* digits of a number that no client has */

typedef GHashTable Values;

void worded_clear(Worded *worded)
{
    g_clear_pointer(&worded->text, g_free);
    g_clear_pointer(&worded->subject, g_free);
}

/* name is lent: each is written in this file. */
static void put(Values *values, const char *name, const char *value)
{
    g_hash_table_insert(values, (char *)name, g_strdup(value));
}

static bool clinic_is_open(Job *job)
{
    return clinic_open(job->clinic, job_day(job, job->clinic->zone)->local);
}

static Values *clinic_values(Job *job)
{
    const Clinic *clinic = job->clinic;
    const char *after =
        clinic->after_hours_phone != NULL ? clinic->after_hours_phone : clinic->phone;
    Values *values = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, g_free);

    put(values, "clinic", clinic->name);
    put(values, "clinic_phone", clinic->phone);
    put(values, "after_hours_phone", after);
    put(values, "phone", clinic_is_open(job) ? clinic->phone : after);
    put(values, "emergency", clinic->emergency);
    put(values, "crisis", clinic->crisis != NULL ? clinic->crisis : clinic->emergency);
    return values;
}

static const Pack *pack_of(Job *job, const Person *person)
{
    return settings_pack(job->settings, person != NULL ? person->language : job->clinic->language);
}

/* On a phone that several share a text for one of them begins with that one's letter. */
static char *text_of(Job *job, const Person *person, Channel by, const char *key, Values *values)
{
    const Pack *pack = pack_of(job, person);
    const TextRule *shared = person != NULL && by == CHANNEL_SMS ? text_rule_shared(key) : NULL;
    const char letter[] = {shared != NULL ? sharers_letter(job, person) : '\0', '\0'};

    if (letter[0] == '\0') return wording_from(pack, key, values);
    put(values, "letter", letter);
    g_autofree char *text = wording_from(pack, shared->key, values);
    return text_marked(letter[0], text);
}

/* by: the way that the text goes; person NULL: to the clinic's own people. */
static void word(Job *job, const Person *person, Channel by, const char *key, const char *subject,
                 Values *values, Worded *worded)
{
    const Pack *pack = pack_of(job, person);

    worded->text = text_of(job, person, by, key, values);
    worded->subject = subject != NULL ? wording_from(pack, subject, values) : NULL;
}

static bool by_mail(const Person *person)
{
    return person->channel == CHANNEL_EMAIL;
}

void words_key(Job *job, const Person *person, Channel by, const char *key, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);

    word(job, person, by, key, "subject-answer", values, worded);
}

void words_value(Job *job, const Person *person, Channel by, const char *key, double value,
                 Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);
    g_autofree char *number = g_strdup_printf("%g", value);

    put(values, "value", number);
    word(job, person, by, key, "subject-answer", values, worded);
}

void words_rates(Job *job, const Person *person, Channel by, const char *key, double intensity,
                 double pain, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);
    g_autofree char *stretch = g_strdup_printf("%g", intensity);
    g_autofree char *hurt = g_strdup_printf("%g", pain);

    put(values, "intensity", stretch);
    put(values, "pain", hurt);
    word(job, person, by, key, "subject-answer", values, worded);
}

/* Without a rule of its own the plan asks daily, and leaves which day is off to the client. */
static int days_asked(const Stage *stage)
{
    return stage_rule(stage) != NULL ? stage->days_a_week : 7;
}

void words_moved(Job *job, const Person *person, const Stage *from, const Stage *to, bool onwards,
                 Worded *worded)
{
    if (person->days_by_stage && days_asked(from) != days_asked(to))
        words_value(job, person, person->channel, onwards ? "moved-on-days" : "moved-back-days",
                    days_asked(to), worded);
    else
        words_key(job, person, person->channel, onwards ? "moved-on" : "outcome-step-back", worded);
}

void words_welcome(Job *job, const Person *person, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);

    word(job, person, person->channel, "welcome", "subject-welcome", values, worded);
}

/* What to do, with its cautions. False where that is not known, or a fresh screen is due before any of it. */
static bool put_movements(Job *job, const Person *person, Values *values)
{
    g_autoptr(Ready) ready = ready_judge(job, person);
    HandoutMovement movements[STAGE_MOVEMENTS_MAX];
    const Pack *pack = pack_of(job, person);

    if (ready == NULL || ready->screen->due) return false;
    int n = movements_lay_out(person, ready, movements);
    for (int i = 0; i < n; i++)
        movements[i].picture = pictures_setup(job, person, ready, movements[i].movement, pack);
    const HandoutAsk ask = {.clinic = job->clinic,
                            .programme = ready->ask.programme,
                            .stage = ready->ask.stage,
                            .name = person->name,
                            .side = person->side,
                            .channel = person->channel,
                            .change = &person->dose,
                            .one_dose_lower = ready->answer.one_dose_lower,
                            .movements = movements,
                            .n_movements = n};
    g_autofree char *text = handout_movements_text(pack, &ask);
    g_autofree char *cautions = handout_cautions_text(pack, ready->ask.programme);
    put(values, "stage", pack_programme_text(pack, ready->ask.stage->title));
    put(values, "movements", text);
    put(values, "cautions", cautions);
    return true;
}

void words_reminder(Job *job, const Person *person, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);
    g_autofree char *time = NULL;
    LocalTime local = job_day(job, person->zone)->local;

    time = g_strdup_printf("%02d:%02d", local.second / 3600, local.second / 60 % 60);
    put(values, "time", time);
    if (by_mail(person) && person->plain && put_movements(job, person, values))
        word(job, person, person->channel, "reminder-mail-plain", "subject-reminder", values,
             worded);
    else
        word(job, person, person->channel, by_mail(person) ? "reminder-mail" : "reminder",
             "subject-reminder", values, worded);
}

void words_nudge(Job *job, const Person *person, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);

    word(job, person, person->channel, "nudge", "subject-reminder", values, worded);
}

/* A bare number is asked about; that is answered with the letter, on a phone that several share. NULL: with none. */
static const TextRule *asked_by_letter(Job *job, const Person *person, const SafetyCase *about,
                                       const char *key, Values *values)
{
    g_autofree char *instead = g_strconcat(key, "-shared", NULL);
    const TextRule *rule = about->by == CHANNEL_SMS && !about->anyones ? text_rule(instead) : NULL;
    const char letter[] = {rule != NULL ? sharers_letter(job, person) : '\0', '\0'};

    if (*letter == '\0') return NULL;
    put(values, "letter", letter);
    return rule;
}

void words_safety(Job *job, const Person *person, const SafetyCase *about, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);
    g_autofree char *value = g_strdup_printf("%g", about->bare);
    const char *when = "", *kind = about->kind;
    const char *stem = strcmp(kind, "pain") == 0 && about->class == ALERT_NOW ? "pain-now" : kind;

    if (person->stopped) {
        word(job, person, about->by,
             strcmp(kind, "crisis") == 0 ? "safety-stopped-crisis" : "safety-stopped",
             "subject-safety", values, worded);
        return;
    }
    /* These have no wording of their own for a closed clinic: the number to ring is the one that answers. */
    bool now_sign = g_str_equal(stem, "pain-now") || g_str_equal(stem, "pain-unsaid") ||
                    g_str_equal(stem, "heart") || g_str_equal(stem, "stroke") ||
                    g_str_equal(stem, "cauda") || g_str_equal(stem, "crisis");
    if (about->late)
        when = "-late";
    else if (!now_sign && !clinic_is_open(job))
        when = "-after";
    g_autofree char *key = g_strdup_printf("safety-%s%s", stem, when);
    put(values, "value", value);
    const TextRule *asks = asked_by_letter(job, person, about, key, values);
    word(job, person, about->by, asks != NULL ? asks->key : key, "subject-safety", values, worded);
}

/* What stands for somebody whom osier does not know: the end of the number, by which it is found among the replies, or dots
 * where it is none. NULL where the matter is the clinic's own (g_free). */
static char *stranger_code(const json_t *reasons)
{
    size_t i;
    json_t *reason;

    json_array_foreach((json_t *)reasons, i, reason)
    {
        const char *address = json_string_value(json_object_get(reason, "value"));
        if (g_strcmp0(json_string_value(json_object_get(reason, "rule")), "stranger") != 0)
            continue;
        size_t length = address != NULL ? strlen(address) : 0;
        const char *end = length >= STRANGER_SHOWN ? address + length - STRANGER_SHOWN : "";
        return g_strconcat("...", strspn(end, "0123456789") == strlen(end) ? end : "", NULL);
    }
    return NULL;
}

/* Which gateway it is about stands behind what is wrong: "a gateway fails (texts)". */
static char *kind_words(Job *job, const Row *alert, const json_t *reasons)
{
    const char *kind = row_text(alert, ALERT_KIND);
    const char *gateway = json_string_value(json_object_get(json_array_get(reasons, 0), "value"));
    double number = 0;
    g_autofree char *value =
        reasons_number(reasons, &number) ? g_strdup_printf("%g", number) : NULL;
    g_autofree char *words = wording_kind(pack_of(job, NULL), matter_named(kind, reasons), value);

    if (strcmp(kind, "gateway") != 0 || gateway == NULL) return g_steal_pointer(&words);
    return g_strdup_printf("%s (%s)", words, gateway);
}

static Values *alert_values(Job *job, const Person *person, const Row *alert)
{
    json_t *reasons = json_loads(row_text(alert, ALERT_REASONS), JSON_DECODE_ANY, NULL);
    g_autofree char *stranger = person == NULL ? stranger_code(reasons) : NULL;
    g_autofree char *initials =
        person != NULL ? person_initials(person) : g_strdup(stranger != NULL ? "?" : "-");
    g_autofree char *kind = kind_words(job, alert, reasons);
    Values *values = clinic_values(job);

    put(values, "initials", initials);
    put(values, "client_code", person != NULL ? person->id : stranger != NULL ? stranger : "osier");
    put(values, "kind", kind);
    json_decref(reasons);
    return values;
}

void words_alert(Job *job, const Person *person, const Row *alert, const char *taking, bool again,
                 Worded *worded)
{
    g_autoptr(GHashTable) values = alert_values(job, person, alert);
    bool now = strcmp(row_text(alert, ALERT_CLASS), "now") == 0;
    const char *key = now ? "alert-now" : "alert-today";

    put(values, "code", taking);
    if (strcmp(row_text(alert, ALERT_STATE), "taken") == 0)
        key = "alert-overdue";
    else if (again)
        key = now ? "alert-again-now" : "alert-again";
    word(job, NULL, CHANNEL_SMS, key, "subject-alert", values, worded);
}

void words_alert_mail(Job *job, const Person *person, const Row *alert, Worded *worded)
{
    g_autoptr(GHashTable) values = alert_values(job, person, alert);
    LocalTime local = zone_local(job_clinic_zone(job), row_int(alert, ALERT_AT));
    g_autofree char *date = day_format(local.day);
    g_autofree char *at = g_strdup_printf("%s, %02d:%02d (%s)", date, local.second / 3600,
                                          local.second / 60 % 60, job->clinic->zone);

    put(values, "at", at);
    word(job, NULL, CHANNEL_SMS, "alert-mail", "subject-alert", values, worded);
}

void words_alert_answer(Job *job, const Person *person, const Row *alert, const char *key,
                        const char *by, Worded *worded)
{
    g_autoptr(GHashTable) values = alert_values(job, person, alert);

    put(values, "by", by);
    word(job, NULL, CHANNEL_SMS, key, "subject-alert", values, worded);
}

void words_take_refused(Job *job, Worded *worded)
{
    g_autoptr(GHashTable) values = clinic_values(job);

    put(values, "code", "");
    word(job, NULL, CHANNEL_SMS, "alert-take-refused", NULL, values, worded);
}
