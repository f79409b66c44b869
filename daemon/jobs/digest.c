/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/digest.h"

#include <math.h>
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/talk/wording.h"
#include "core/watch/matter.h"
#include "daemon/desk/person.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/ready.h"
#include "daemon/jobs/session_told.h"

#define TREND_DAYS 28
#define TREND_LEAST 4

/* A digest that was begun and not posted by then is begun again. */
#define AGAIN_MS (10 * MINUTE_MS)
#define ON_ITS_WAY "{\"begun\":true}"

/* The span of local days as instants, and its first and last date as texts. */
typedef struct {
    int64_t from_ms;
    int64_t to_ms;
    char *first;
    char *last;
} Span;

static Span span_of(GTimeZone *zone, Day from, Day to)
{
    return (Span){.from_ms = zone_instant(zone, (LocalTime){.day = from}, NULL),
                  .to_ms = zone_instant(zone, (LocalTime){.day = to + 1}, NULL),
                  .first = day_format(from),
                  .last = day_format(to)};
}

static void span_clear(Span *span)
{
    g_free(span->first);
    g_free(span->last);
}

/* --- the next one --- */

/* Is the one that is set due already, or on its way? Then it is sent, late or not, before the next is set. */
static bool is_due(Job *job)
{
    g_autoptr(GPtrArray) set = find_due_kind(job->tx, "digest");

    return set->len > 0 && (row_int(set->pdata[0], DUE_AT) <= job->now_ms ||
                            row_text(set->pdata[0], DUE_BODY) != NULL);
}

static void set_next(Job *job)
{
    GTimeZone *zone = job_clinic_zone(job);
    LocalTime local = zone_local(zone, job->now_ms);
    int ahead = (job->clinic->digest_weekday - day_weekday(local.day) + 7) % 7;
    LocalTime at = {.day = local.day + ahead, .second = job->clinic->digest_second};
    int64_t ms = zone_instant(zone, at, NULL);

    if (ms <= job->now_ms) {
        at.day += 7;
        ms = zone_instant(zone, at, NULL);
    }
    due_set(job->tx, "digest", "week", ms, NULL, NULL);
}

void digest_schedule(Job *job)
{
    if (!is_due(job)) set_next(job);
}

/* --- figures --- */

static void add_matter(Job *job, GPtrArray *matters, const Row *alert)
{
    const char *kind = row_text(alert, ALERT_KIND);
    json_t *reasons = json_loads(row_text(alert, ALERT_REASONS), JSON_DECODE_ANY, NULL);
    double number = 0;
    g_autofree char *value =
        reasons_number(reasons, &number) ? g_strdup_printf("%g", number) : NULL;
    bool closed = strcmp(row_text(alert, ALERT_STATE), "closed") == 0;
    Day date = zone_local(job_clinic_zone(job), row_int(alert, ALERT_AT)).day;
    DigestMatter *matter = digest_matter(matters, kind, value, date, row_text(alert, ALERT_STATE));

    g_free(matter->named);
    matter->named = g_strdup(matter_named(kind, reasons));
    json_decref(reasons);
    matter->by = g_strdup(row_text(alert, closed ? ALERT_CLOSED_BY : ALERT_TAKEN_BY));
    matter->outcome = g_strdup(row_text(alert, ALERT_OUTCOME));
}

static DigestCall *call_of(Digest *digest, const Person *person)
{
    for (guint i = 0; i < digest->calls->len; i++) {
        DigestCall *call = digest->calls->pdata[i];
        if (strcmp(call->client, person->id) == 0) return call;
    }
    DigestCall *call = digest_call(digest, person->id, person->name);
    call->phone = g_strdup(person->address[CHANNEL_SMS]);
    call->needs = g_strdup(person->needs);
    return call;
}

/* Everybody with an alert that nobody has closed, gravest first. */
static void add_calls(Job *job, Digest *digest)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, NULL, false);

    for (guint i = 0; i < alerts->len; i++) {
        const Row *alert = alerts->pdata[i];
        g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));
        if (person != NULL && strcmp(row_text(alert, ALERT_CLASS), "digest") != 0)
            add_matter(job, call_of(digest, person)->reasons, alert);
    }
}

/* Values of the weeks before and of this week. */
typedef struct {
    GArray *before; /* of double */
    GArray *week;
} Values;

static double mean_of(const GArray *values)
{
    double sum = 0;

    for (guint i = 0; i < values->len; i++)
        sum += g_array_index(values, double, i);
    return sum / values->len;
}

static double spread_of(const GArray *values)
{
    double mean = mean_of(values);
    double sum = 0;

    for (guint i = 0; i < values->len; i++)
        sum += pow(g_array_index(values, double, i) - mean, 2);
    return sqrt(sum / (values->len - 1));
}

/* Has the week left what was usual in the three weeks before? Nothing is said on fewer than four
 * readings of either. A spread under one point is taken as one: people answer in whole numbers
 * (common practice). */
static bool direction_of(const Values *values, TrendDirection *direction)
{
    if (values->before->len < TREND_LEAST || values->week->len < TREND_LEAST) return false;
    Ewma ewma = {.lambda = 0.3,
                 .target = mean_of(values->before),
                 .sigma = MAX(1.0, spread_of(values->before)),
                 .width = 3};
    *direction = ewma_direction(&ewma, (const double *)(void *)values->week->data,
                                (int)values->week->len, NULL);
    return true;
}

static Values values_new(void)
{
    return (Values){.before = g_array_new(FALSE, FALSE, sizeof(double)),
                    .week = g_array_new(FALSE, FALSE, sizeof(double))};
}

static void values_clear(Values *values)
{
    g_array_unref(values->before);
    g_array_unref(values->week);
}

/* Where each session's last report stands among them (of GUINT_TO_POINTER). */
static GHashTable *last_places(const GPtrArray *reports)
{
    GHashTable *last = g_hash_table_new(g_str_hash, g_str_equal);

    for (guint i = 0; i < reports->len; i++) {
        const char *session = row_text(reports->pdata[i], REPORT_SESSION);
        if (session != NULL) g_hash_table_insert(last, (gpointer)session, GUINT_TO_POINTER(i));
    }
    return last;
}

/* How strong the stretch was in each session, once, and what was said of pain this week that is not settled. A session
 * counts when it was last told of. */
static void add_told(Job *job, DigestClient *entry, const GPtrArray *reports, const Span *span,
                     Values *strength)
{
    Day from = (Day)divide_down(span->to_ms, DAY_MS) - TREND_DAYS;
    g_autoptr(GHashTable) told = session_told_load(job, entry->client, from);
    g_autoptr(GHashTable) last = last_places(reports);

    for (guint i = 0; i < reports->len; i++) {
        const Row *row = reports->pdata[i];
        const char *session = row_text(row, REPORT_SESSION);
        bool this_week = row_int(row, REPORT_AT) >= span->from_ms;
        if (session == NULL || GPOINTER_TO_UINT(g_hash_table_lookup(last, session)) != i) continue;
        SessionTold of = session_told_of(told, session);
        if (of.stretch >= 0)
            g_array_append_val(this_week ? strength->week : strength->before, of.stretch);
        if (!this_week) continue;
        entry->pain_bare = MAX(entry->pain_bare, of.bare);
        entry->pain_some = entry->pain_some || of.pain_some;
    }
}

/* Mean strength and highest pain of the week, and where they are going. */
static void add_reports(Job *job, DigestClient *entry, const Span *span)
{
    g_autoptr(GPtrArray) rows =
        find_reports(job->tx, entry->client, span->to_ms - TREND_DAYS * DAY_MS, span->to_ms);
    Values strength = values_new();
    Values pain = values_new();

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        const char *hurts = row_text(row, REPORT_PAIN);
        bool this_week = row_int(row, REPORT_AT) >= span->from_ms;
        if (hurts == NULL || strcmp(hurts, "some") == 0) continue;
        double value = g_ascii_strtod(hurts, NULL);
        g_array_append_val(this_week ? pain.week : pain.before, value);
        if (this_week) entry->pain = MAX(entry->pain, value);
    }
    add_told(job, entry, rows, span, &strength);
    if (strength.week->len > 0) entry->intensity = mean_of(strength.week);
    entry->has_intensity_trend = direction_of(&strength, &entry->intensity_trend);
    entry->has_pain_trend = direction_of(&pain, &entry->pain_trend);
    values_clear(&strength);
    values_clear(&pain);
}

static const char *gravest_bar(const Person *person)
{
    return person->ended       ? "end"
           : person->stopped   ? "stop"
           : person->held      ? "hold"
           : person->suspended ? "suspend"
           : person->paused    ? "pause"
                               : NULL;
}

static const char *stage_title(Job *job, const Person *person)
{
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;
    const Stage *stage = programme != NULL && person->stage != NULL
                             ? programme_stage(programme, person->stage)
                             : NULL;

    return stage != NULL ? pack_programme_text(pack, stage->title) : person->stage;
}

static void add_client(Job *job, Digest *digest, const char *id, const Span *span,
                       const GPtrArray *alerts)
{
    g_autoptr(GPtrArray) sessions = find_sessions(job->tx, id, span->first, span->last);
    g_autoptr(Person) person = person_load(job, id);

    if (person == NULL || (sessions->len == 0 && !person_has_plan(person))) return;
    DigestClient *entry = digest_client(digest, id, person->name);
    g_autoptr(Ready) ready = person_has_plan(person) ? ready_judge(job, person) : NULL;
    if (ready != NULL) entry->readiness = g_strdup(ready_verdict_name(ready->answer.verdict));
    entry->stage = g_strdup(stage_title(job, person));
    entry->bar = g_strdup(gravest_bar(person));
    for (guint i = 0; i < sessions->len; i++)
        session_count(&entry->counts, row_text(sessions->pdata[i], SESSION_STATE));
    add_reports(job, entry, span);
    for (guint i = 0; i < alerts->len; i++)
        if (g_strcmp0(row_text(alerts->pdata[i], ALERT_CLIENT), id) == 0)
            add_matter(job, entry->alerts, alerts->pdata[i]);
}

static double away_hours(Job *job, const Span *span)
{
    g_autoptr(GPtrArray) rows = find_away(job->tx, span->from_ms, span->to_ms);
    int64_t sum = 0, until = span->from_ms;

    /* By their beginnings: what two of them share counts once. */
    for (guint i = 0; i < rows->len; i++) {
        int64_t from = MAX(until, row_int(rows->pdata[i], AWAY_FROM));
        int64_t to = MIN(span->to_ms, row_int(rows->pdata[i], AWAY_TO));
        sum += MAX(0, to - from);
        until = MAX(until, to);
    }
    return (double)sum / (double)HOUR_MS;
}

static bool has_price(const Clinic *clinic)
{
    for (guint i = 0; i < clinic->gateways->len; i++)
        if (((const Gateway *)clinic->gateways->pdata[i])->price > 0) return true;
    return false;
}

/* Has a person settled it as something else than osier had read, or said that osier missed something? Where osier read nothing, it
 * has misread nothing. */
static bool was_misread(const Row *reply)
{
    static const char *const FIELDS[] = {"done", "intensity", "pain"};
    bool differs = false;

    if (row_is_null(reply, REPLY_S_READING)) return false;
    json_t *settled = json_loads(row_text(reply, REPLY_S_READING), 0, NULL);
    if (json_object_get(settled, "missed") != NULL || row_is_null(reply, REPLY_R_READING)) {
        differs = json_object_get(settled, "missed") != NULL;
        json_decref(settled);
        return differs;
    }
    json_t *read = json_loads(row_text(reply, REPLY_R_READING), 0, NULL);
    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        const json_t *said = json_object_get(read, FIELDS[i]);
        if (said != NULL && !json_is_null(said))
            differs = differs || !json_equal(said, json_object_get(settled, FIELDS[i]));
    }
    json_decref(read);
    json_decref(settled);
    return differs;
}

static int count_misread(const GPtrArray *settled)
{
    int n = 0;

    for (guint i = 0; i < settled->len; i++)
        n += was_misread(settled->pdata[i]);
    return n;
}

Digest *digest_gather(Job *job, Day end)
{
    Digest *digest = digest_new(job->clinic->name, end - 7, end - 1);
    Span span = span_of(job_clinic_zone(job), end - 7, end - 1);
    g_autoptr(GPtrArray) clients = find_clients(job->tx);
    g_autoptr(GPtrArray) alerts = find_alerts_between(job->tx, span.from_ms, span.to_ms);
    g_autoptr(GPtrArray) unread = find_replies(job->tx, NULL, "unread", 0);
    g_autoptr(GPtrArray) glance = find_glance(job->tx);
    g_autoptr(GPtrArray) settled = find_replies(job->tx, NULL, "settled", span.from_ms);
    int64_t segments;
    double cost;

    add_calls(job, digest);
    for (guint i = 0; i < clients->len; i++)
        add_client(job, digest, clients->pdata[i], &span, alerts);
    digest_sort(digest);
    digest->away_hours = away_hours(job, &span);
    find_cost(job->tx, span.from_ms, span.to_ms, &segments, &cost);
    digest->segments = (int)segments;
    digest->cost = has_price(job->clinic) ? cost : -1;
    digest->unread = (int)unread->len;
    digest->glance = (int)glance->len;
    digest->settled = (int)settled->len;
    digest->missed = count_misread(settled);
    span_clear(&span);
    return digest;
}

/* --- mail --- */

void digest_draft_free(DigestDraft *draft)
{
    if (draft == NULL) return;
    drawing_free(draft->drawing);
    g_free(draft->text);
    g_free(draft->subject);
    g_free(draft->from);
    g_free(draft->to);
    g_free(draft->html);
    g_free(draft);
}

DigestDraft *digest_begin(Job *job)
{
    /* However late it goes out, it tells of the clinic's own week. */
    Day today = zone_local(job_clinic_zone(job), job->now_ms).day;
    Day end = today - (day_weekday(today) - job->clinic->digest_weekday + 7) % 7;
    const Pack *pack = settings_pack(job->settings, job->clinic->language);
    Digest *digest = digest_gather(job, end);
    DigestDraft *draft = g_new0(DigestDraft, 1);

    draft->text = digest_text(digest, pack);
    draft->from = day_format(digest->from);
    draft->to = day_format(digest->to);
    g_autofree char *from = wording_day(pack, digest->from);
    g_autofree char *to = wording_day(pack, digest->to);
    draft->subject =
        wording(pack, "subject-digest", "clinic", job->clinic->name, "from", from, "to", to, NULL);
    draft->drawing = drawing_of_digest(digest, digest_pictures(job, digest, pack), job->settings);
    due_set(job->tx, "digest", "week", job->now_ms + AGAIN_MS, NULL, ON_ITS_WAY);
    return draft;
}

void digest_post(Job *job, const DigestDraft *draft)
{
    for (guint i = 0; i < job->clinic->digest_to->len; i++) {
        const char *address = job->clinic->digest_to->pdata[i];
        g_autofree char *purpose = g_strdup_printf("digest/%s/%s", draft->to, address);
        g_free(post_staff(job, CHANNEL_EMAIL, address, NULL,
                          &(Post){.kind = MESSAGE_DIGEST,
                                  .purpose = purpose,
                                  .text = draft->text,
                                  .subject = draft->subject,
                                  .html = draft->html,
                                  .end_ms = job->now_ms + 5 * DAY_MS}));
    }
    tx_append(job->tx, "digest.sent", draft->from, "osier", NULL,
              json_pack("{s:I}", "at", (json_int_t)job->now_ms));
    set_next(job);
}
