/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/keep.h"

#include "adapters/store/find_access.h"
#include "adapters/store/find_work.h"

#define KIND "keep"
#define KEY "words"
#define NIGHT_S (3 * 3600 + 40 * 60) /* when nobody is written to */

enum { IDS_AN_EVENT = 2000, CLOCK_LEAP_DAYS = 31 };

static int64_t next_ms(Job *job)
{
    GTimeZone *zone = job_clinic_zone(job);
    Day first = zone_local(zone, job->now_ms).day;
    int year, month, day;

    day_to_civil(first, &year, &month, &day);
    g_assert(day_from_civil(month == 12 ? year + 1 : year, month % 12 + 1, 1, &first));
    return zone_instant(zone, (LocalTime){.day = first, .second = NIGHT_S}, NULL);
}

void keep_schedule(Job *job)
{
    const Clinic *clinic = job->clinic;

    if (clinic->keep_words_years == 0 && clinic->keep_looks_years == 0)
        due_drop(job->tx, KIND, KEY);
    else if (!due_is_set(job->tx, KIND, KEY))
        due_set(job->tx, KIND, KEY, next_ms(job), NULL, NULL);
}

/* The beginning of today, so many years ago; the 29th of February becomes the 28th. */
static int64_t kept_from_ms(Job *job, int years)
{
    GTimeZone *zone = job_clinic_zone(job);
    Day from = day_years_after(zone_local(zone, job->now_ms).day, -years);

    return zone_instant(zone, (LocalTime){.day = from}, NULL);
}

/* What is to lose its words: subjects of replies, single events of digests. */
typedef struct {
    Tx *tx;
    json_t *also;
} Letting;

static void let_go(Letting *letting)
{
    if (json_array_size(letting->also) > 0)
        tx_append(letting->tx, "redacted", KEY, "osier", NULL,
                  json_pack("{s:O}", "also", letting->also));
    json_array_clear(letting->also);
}

static void add(const TxResult *result, void *context)
{
    g_ptr_array_add(context, g_strdup(result->text[0]));
}

static void let_go_of(Job *job, const char *sql, int64_t before_ms)
{
    g_autoptr(GPtrArray) ids = g_ptr_array_new_with_free_func(g_free);
    Letting letting = {job->tx, json_array()};

    tx_select(job->tx, sql, add, ids, "i", before_ms);
    for (guint i = 0; i < ids->len; i++) {
        json_array_append_new(letting.also, json_string(ids->pdata[i]));
        if (json_array_size(letting.also) == IDS_AN_EVENT) let_go(&letting);
    }
    let_go(&letting);
    json_decref(letting.also);
}

static void keep_words(Job *job)
{
    if (job->clinic->keep_words_years == 0) return;
    int64_t before_ms = kept_from_ms(job, job->clinic->keep_words_years);
    let_go_of(job,
              "SELECT id FROM reply WHERE arrived < ?1 AND state IN ('read', 'settled', 'command') "
              "AND id NOT IN (SELECT cause FROM alert WHERE cause IS NOT NULL AND state <> "
              "'closed') AND id NOT IN (SELECT subject FROM erased) ORDER BY id",
              before_ms);
    let_go_of(job,
              "SELECT replica || ':' || seq FROM event WHERE subject = 'clinic' AND kind = "
              "'message.settled' AND wall < ?1 AND body LIKE '%\"kind\":\"digest\"%' ORDER BY "
              "replica, seq",
              before_ms);
}

/* After a longer leap the clock may be wrong, or osierd was off for long: what is old is old next month as well. */
static bool has_leapt(const Job *job, int64_t known_ms)
{
    return job->now_ms - known_ms > CLOCK_LEAP_DAYS * DAY_MS;
}

void keep_looks(Job *job, int64_t known_ms)
{
    if (job->clinic->keep_looks_years > 0 && !has_leapt(job, known_ms))
        look_drop(job->tx, kept_from_ms(job, job->clinic->keep_looks_years));
}

void keep_meet(Job *job, int64_t due_ms)
{
    due_drop(job->tx, KIND, KEY);
    if (!has_leapt(job, due_ms)) keep_words(job);
    keep_looks(job, due_ms);
    keep_schedule(job);
}
