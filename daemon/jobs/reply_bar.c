/* SPDX-License-Identifier: Apache-2.0 */
/* Words after which nothing is sent until a person has settled them: of a death, a hospital, an illness, or of somebody else who
 * has the number. Each reply sets a bar of its own, so that settling one does not lift another. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/reply.h"

#define WHY_WORDS "words"
#define WHY_DEATH "a death"
#define WHY_NUMBER "wrong number"
#define WHY_ADDRESS "wrong address"

static bool bar_is(const Row *bar, const char *kind, const char *why)
{
    return strcmp(row_text(bar, BAR_KIND), kind) == 0 &&
           (why == NULL || g_strcmp0(row_text(bar, BAR_WHY), why) == 0);
}

static bool is_of_number(const Row *bar)
{
    return bar_is(bar, "suspend", WHY_NUMBER) || bar_is(bar, "suspend", WHY_ADDRESS);
}

bool reply_is_elsewhere(const Person *person)
{
    for (guint i = 0; i < person->bars->len; i++)
        if (is_of_number(person->bars->pdata[i]) ||
            bar_is(person->bars->pdata[i], "suspend", WHY_DEATH))
            return true;
    return false;
}

Back reply_back(const Person *person, const Reading *reading)
{
    if (!reading->death && !reading->wrong_number && !reply_is_elsewhere(person)) return BACK_ALL;
    return reading->warning != WARNING_NONE && !reading->own_sign ? BACK_NOTHING : BACK_SAFETY;
}

char *reply_suggests(const char *client, const json_t *reading, Channel channel)
{
    if (client == NULL) return NULL;
    if (json_is_true(json_object_get(reading, "death")))
        return g_strdup_printf("osier client end %s --why died", client);
    if (json_is_true(json_object_get(reading, "wrong_number")))
        return g_strdup_printf("osier client set %s --%s", client,
                               channel == CHANNEL_EMAIL ? "email ADDRESS" : "phone NUMBER");
    if (json_is_true(json_object_get(reading, "suspend")))
        return g_strdup_printf("osier client pause %s --until DATE --why illness", client);
    if (json_is_true(json_object_get(reading, "away")))
        return g_strdup_printf("osier client pause %s --until DATE --why away", client);
    return NULL;
}

static void suspend(Job *job, const Person *person, const char *cause, const char *why)
{
    for (guint i = 0; i < person->bars->len; i++)
        if (bar_is(person->bars->pdata[i], "suspend", why) &&
            g_strcmp0(row_text(person->bars->pdata[i], BAR_CAUSE), cause) == 0)
            return;
    tx_append(job->tx, "client.suspend", person->id, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", why, "by",
                        "osier", "cause", cause));
}

/* Within the day a clinician hears of it: it may be the client who died, or who cannot be reached. */
static void tell(Job *job, const Person *person, const Reading *reading, const char *cause,
                 Channel channel)
{
    json_t *document = reading_json(reading);
    g_autofree char *command = reply_suggests(person->id, document, channel);
    json_t *reasons = json_array();

    json_decref(document);

    if (reading->death)
        json_array_append_new(reasons,
                              reason_words("suspended", "words of a death", reading->from_suspend));
    if (reading->wrong_number)
        json_array_append_new(reasons, reason_words("suspended", "words of a wrong number",
                                                    reading->from_wrong_number));
    json_array_append_new(reasons, reason_words("if so", command, NULL));
    g_free(alert_open(
        job, person,
        &(Opening){.kind = "suspended", .class = ALERT_TODAY, .cause = cause, .reasons = reasons}));
    json_decref(reasons);
}

void reply_bar(Job *job, const Person *person, const Reading *reading, const char *cause,
               Channel channel)
{
    if (reading->suspend) suspend(job, person, cause, reading->death ? WHY_DEATH : WHY_WORDS);
    if (reading->wrong_number)
        suspend(job, person, cause, channel == CHANNEL_EMAIL ? WHY_ADDRESS : WHY_NUMBER);
    if ((reading->death || reading->wrong_number) && !person->ended)
        tell(job, person, reading, cause, channel);
}

void reply_bar_stop(Job *job, const Person *person, const char *cause, const char *by)
{
    if (person->stopped) return;
    tx_append(job->tx, "client.stop", person->id, by, NULL,
              json_pack("{s:I, s:s, s:s, s:s?}", "at", (json_int_t)job->now_ms, "why",
                        "asked for it", "by", by, "cause", cause));
}

/* Ends those bars, of which ends is taken over; nothing where there are none. */
static void end_bars(Job *job, const Person *person, const char *kind, json_t *ends, const char *by)
{
    if (json_array_size(ends) == 0)
        json_decref(ends);
    else
        tx_append(
            job->tx, kind, person->id, by, NULL,
            json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", by));
}

void reply_lift_suspend(Job *job, const Person *person, const char *cause, const char *by)
{
    json_t *ends = json_array();

    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        if (bar_is(bar, "suspend", NULL) && !is_of_number(bar) &&
            g_strcmp0(row_text(bar, BAR_CAUSE), cause) == 0)
            json_array_append_new(ends, json_string(row_text(bar, BAR_ID)));
    }
    end_bars(job, person, "client.resume", ends, by);
}

void reply_lift_all(Job *job, const char *reply, const char *by)
{
    g_autoptr(GPtrArray) bars = find_bars_of_cause(job->tx, "suspend", reply);
    const char *before = NULL;

    for (guint i = 0; i < bars->len; i++) {
        const char *client = row_text(bars->pdata[i], BAR_CLIENT);
        g_autoptr(Person) person = g_strcmp0(client, before) != 0 ? person_load(job, client) : NULL;
        if (person != NULL) reply_lift_suspend(job, person, reply, by);
        before = client;
    }
}

/* Was it a reply that came that way? */
static bool came_by(Job *job, const char *reply, Channel channel)
{
    g_autoptr(Row) row = reply != NULL ? tx_get_text(job->tx, TABLE_REPLY, reply) : NULL;

    return row != NULL && g_strcmp0(row_text(row, REPLY_CHANNEL), channel_name(channel)) == 0;
}

void reply_address_set(Job *job, const Person *person, Channel channel, const char *by)
{
    const char *why = channel == CHANNEL_EMAIL ? WHY_ADDRESS : WHY_NUMBER;
    json_t *suspends = json_array(), *stops = json_array();
    int64_t since_ms = INT64_MAX;

    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        if (!bar_is(bar, "suspend", why)) continue;
        json_array_append_new(suspends, json_string(row_text(bar, BAR_ID)));
        since_ms = MIN(since_ms, row_int(bar, BAR_AT));
    }
    for (guint i = 0; i < person->bars->len; i++) {
        const Row *bar = person->bars->pdata[i];
        if (bar_is(bar, "stop", NULL) && row_int(bar, BAR_AT) >= since_ms &&
            came_by(job, row_text(bar, BAR_CAUSE), channel))
            json_array_append_new(stops, json_string(row_text(bar, BAR_ID)));
    }
    end_bars(job, person, "client.resume", suspends, by);
    end_bars(job, person, "client.start", stops, by);
}
