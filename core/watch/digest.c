/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/digest.h"

static void matter_free(void *data)
{
    DigestMatter *matter = data;

    g_free(matter->kind);
    g_free(matter->named);
    g_free(matter->value);
    g_free(matter->state);
    g_free(matter->by);
    g_free(matter->outcome);
    g_free(matter);
}

static void call_free(void *data)
{
    DigestCall *call = data;

    g_free(call->client);
    g_free(call->name);
    g_free(call->phone);
    g_free(call->needs);
    g_ptr_array_unref(call->reasons);
    g_free(call);
}

static void client_free(void *data)
{
    DigestClient *client = data;

    g_free(client->client);
    g_free(client->name);
    g_free(client->order);
    g_free(client->stage);
    g_free(client->bar);
    g_free(client->readiness);
    g_ptr_array_unref(client->alerts);
    g_free(client);
}

static void picture_free(void *data)
{
    DigestPicture *picture = data;

    g_free(picture->title);
    g_free(picture->alt);
    g_free(picture->png);
    g_free(picture);
}

Digest *digest_new(const char *clinic, Day from, Day to)
{
    Digest *digest = g_new0(Digest, 1);

    digest->clinic = g_strdup(clinic);
    digest->from = from;
    digest->to = to;
    digest->cost = -1;
    digest->calls = g_ptr_array_new_with_free_func(call_free);
    digest->clients = g_ptr_array_new_with_free_func(client_free);
    digest->pictures = g_ptr_array_new_with_free_func(picture_free);
    return digest;
}

void digest_free(Digest *digest)
{
    if (digest == NULL) return;
    g_free(digest->clinic);
    g_ptr_array_unref(digest->calls);
    g_ptr_array_unref(digest->clients);
    g_ptr_array_unref(digest->pictures);
    g_free(digest);
}

DigestCall *digest_call(Digest *digest, const char *client, const char *name)
{
    DigestCall *call = g_new0(DigestCall, 1);

    call->client = g_strdup(client);
    call->name = g_strdup(name);
    call->reasons = g_ptr_array_new_with_free_func(matter_free);
    g_ptr_array_add(digest->calls, call);
    return call;
}

DigestClient *digest_client(Digest *digest, const char *client, const char *name)
{
    DigestClient *entry = g_new0(DigestClient, 1);

    entry->client = g_strdup(client);
    g_autofree char *valid = g_utf8_make_valid(name != NULL ? name : "", -1);
    g_autofree char *folded = g_utf8_casefold(valid, -1);
    entry->name = g_strdup(name);
    entry->order = g_utf8_collate_key(folded, -1);
    entry->intensity = -1;
    entry->pain = -1;
    entry->alerts = g_ptr_array_new_with_free_func(matter_free);
    g_ptr_array_add(digest->clients, entry);
    return entry;
}

DigestMatter *digest_matter(GPtrArray *matters, const char *kind, const char *value, Day date,
                            const char *state)
{
    DigestMatter *matter = g_new0(DigestMatter, 1);

    matter->kind = g_strdup(kind);
    matter->named = g_strdup(kind);
    matter->value = g_strdup(value);
    matter->date = date;
    matter->state = g_strdup(state != NULL ? state : "open");
    g_ptr_array_add(matters, matter);
    return matter;
}

void digest_picture(Digest *digest, const char *title, const char *alt, const void *png,
                    size_t length)
{
    DigestPicture *picture = g_new0(DigestPicture, 1);

    picture->title = g_strdup(title);
    picture->alt = g_strdup(alt);
    picture->png = g_base64_encode(png, length);
    g_ptr_array_add(digest->pictures, picture);
}

static gint by_name(gconstpointer one, gconstpointer other)
{
    const DigestClient *a = *(const DigestClient *const *)one,
                       *b = *(const DigestClient *const *)other;
    int order = strcmp(a->order, b->order);

    return order != 0 ? order : g_strcmp0(a->client, b->client);
}

void digest_sort(Digest *digest)
{
    g_ptr_array_sort(digest->clients, by_name);
}

void digest_practised(const Digest *digest, int *asked, int *practised)
{
    *asked = *practised = 0;
    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        int some = client->counts.done + client->counts.partly;
        *practised += some > 0;
        *asked += some > 0 || adherence_of(client->counts).due > 0;
    }
}

SessionCounts digest_total(const Digest *digest)
{
    SessionCounts total = {0};

    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = g_ptr_array_index(digest->clients, i);
        total.done += client->counts.done;
        total.partly += client->counts.partly;
        total.not += client->counts.not ;
        total.silent += client->counts.silent;
        total.unasked += client->counts.unasked;
        total.excused += client->counts.excused;
    }
    return total;
}

static json_t *text_or_null(const char *text)
{
    g_autofree char *valid = text != NULL ? g_utf8_make_valid(text, -1) : NULL;

    return valid != NULL ? json_string(valid) : json_null();
}

static json_t *date_json(Day day)
{
    g_autofree char *text = day_format(day);

    return json_string(text);
}

static json_t *number_or_null(double number)
{
    return number >= 0 ? json_real(number) : json_null();
}

static json_t *trend_json(bool has, TrendDirection direction)
{
    return has ? json_string(trend_direction_name(direction)) : json_null();
}

static json_t *matters_json(const GPtrArray *matters)
{
    json_t *array = json_array();

    for (guint i = 0; i < matters->len; i++) {
        const DigestMatter *matter = g_ptr_array_index(matters, i);
        json_array_append_new(
            array,
            json_pack("{s:o,s:o,s:o,s:o,s:o,s:o,s:o}", "kind", text_or_null(matter->kind), "named",
                      text_or_null(matter->named), "value", text_or_null(matter->value), "date",
                      date_json(matter->date), "state", text_or_null(matter->state), "by",
                      text_or_null(matter->by), "outcome", text_or_null(matter->outcome)));
    }
    return array;
}

static json_t *calls_json(const Digest *digest)
{
    json_t *array = json_array();

    for (guint i = 0; i < digest->calls->len; i++) {
        const DigestCall *call = g_ptr_array_index(digest->calls, i);
        json_array_append_new(
            array, json_pack("{s:o,s:o,s:o,s:o,s:o}", "client", text_or_null(call->client), "name",
                             text_or_null(call->name), "phone", text_or_null(call->phone), "needs",
                             text_or_null(call->needs), "reasons", matters_json(call->reasons)));
    }
    return array;
}

static json_t *client_json(const DigestClient *client)
{
    Adherence adherence = adherence_of(client->counts);

    return json_pack("{s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:b}", "client",
                     text_or_null(client->client), "name", text_or_null(client->name), "stage",
                     text_or_null(client->stage), "bar", text_or_null(client->bar), "sessions",
                     adherence_json(&adherence), "intensity", number_or_null(client->intensity),
                     "intensity_trend",
                     trend_json(client->has_intensity_trend, client->intensity_trend), "pain",
                     number_or_null(client->pain), "pain_trend",
                     trend_json(client->has_pain_trend, client->pain_trend), "alerts",
                     matters_json(client->alerts), "readiness", text_or_null(client->readiness),
                     "pain_bare", number_or_null(client->pain_bare > 0 ? client->pain_bare : -1),
                     "pain_some", client->pain_some);
}

json_t *digest_json(const Digest *digest)
{
    Adherence total = adherence_of(digest_total(digest));
    json_t *clients = json_array();
    int asked, practised;

    digest_practised(digest, &asked, &practised);
    for (guint i = 0; i < digest->clients->len; i++)
        json_array_append_new(clients, client_json(g_ptr_array_index(digest->clients, i)));
    return json_pack("{s:o,s:o,s:o,s:o,s:o,s:i,s:i,s:o,s:i,s:i,s:i,s:i,s:f,s:i,s:o}", "clinic",
                     text_or_null(digest->clinic), "from", date_json(digest->from), "to",
                     date_json(digest->to), "calls", calls_json(digest), "clients", clients,
                     "asked", asked, "practised", practised, "sessions", adherence_json(&total),
                     "unread", digest->unread, "glance", digest->glance, "settled", digest->settled,
                     "missed", digest->missed, "away_hours", digest->away_hours, "segments",
                     digest->segments, "cost", number_or_null(digest->cost));
}
