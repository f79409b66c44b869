/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/standin.h"

#include <jansson.h>
#include <string.h>

#define PAGE 20

struct Standin {
    Trace *trace;
    Random *random;
    bool takes_key;
    Weather weather;
    int strays;
    GHashTable *refused; /* numbers */
    GHashTable *keys;    /* message id -> the gateway's id that it was given */
    GPtrArray *inbox;    /* of JSON texts */
    StandinWritten *written;
    StandinAcknowledged *acknowledged;
    void *context;
    int count;
    int knocks;
    int kept; /* polls that time out on a connection kept from before */
};

const char *weather_name(Weather weather)
{
    static const char *const NAMES[] = {"clear", "errors",  "cut", "dead",
                                        "html",  "refuses", "slow"};

    return NAMES[weather];
}

Standin *standin_new(Trace *trace, Random *random, bool takes_key)
{
    Standin *standin = g_new0(Standin, 1);

    standin->trace = trace;
    standin->random = random;
    standin->takes_key = takes_key;
    standin->refused = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    standin->keys = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    standin->inbox = g_ptr_array_new_with_free_func(g_free);
    return standin;
}

void standin_free(Standin *standin)
{
    if (standin == NULL) return;
    g_hash_table_unref(standin->refused);
    g_hash_table_unref(standin->keys);
    g_ptr_array_unref(standin->inbox);
    g_free(standin);
}

void standin_watch(Standin *standin, StandinWritten *written, StandinAcknowledged *acknowledged,
                   void *context)
{
    standin->written = written;
    standin->acknowledged = acknowledged;
    standin->context = context;
}

void standin_set_weather(Standin *standin, Weather weather)
{
    if (standin->weather != weather)
        trace_note(standin->trace, "the gateway turns %s", weather_name(weather));
    standin->weather = weather;
}

Weather standin_weather(const Standin *standin)
{
    return standin->weather;
}

int standin_knocks(const Standin *standin)
{
    return standin->knocks;
}

void standin_keep(Standin *standin, int polls)
{
    standin->kept = polls;
}

void standin_set_strays(Standin *standin, int per_mille)
{
    standin->strays = per_mille;
}

void standin_refuse(Standin *standin, const char *number, bool refuses)
{
    trace_note(standin->trace, "the gateway %s %s", refuses ? "refuses" : "takes", number);
    if (refuses)
        g_hash_table_add(standin->refused, g_strdup(number));
    else
        g_hash_table_remove(standin->refused, number);
}

guint standin_put(Standin *standin, const char *item)
{
    g_ptr_array_add(standin->inbox, g_strdup(item));
    return standin->inbox->len - 1;
}

/* The weather of one request: that of the hour, or a stray fault. */
static Weather weather_of_request(Standin *standin)
{
    if (standin->weather != WEATHER_CLEAR || standin->strays == 0) return standin->weather;
    if ((int)random_below(standin->random, "stray", 1000) >= standin->strays) return WEATHER_CLEAR;
    return (Weather)(1 + random_below(standin->random, "stray kind", WEATHER_HTML));
}

static bool coin(Standin *standin)
{
    return random_below(standin->random, "coin", 2) == 0;
}

/* --- sending --- */

static const char *give_id(Standin *standin, const char *id)
{
    char *given = g_hash_table_lookup(standin->keys, id);

    if (given == NULL || !standin->takes_key) {
        given = g_strdup_printf("g%06d", ++standin->count);
        g_hash_table_insert(standin->keys, g_strdup(id), given);
    }
    return given;
}

/* What becomes of a message in that weather; a repeated key is taken, but not delivered again. */
static void decide(Standin *standin, Weather weather, Written *written)
{
    bool known =
        standin->takes_key && !written->mail && g_hash_table_contains(standin->keys, written->id);

    written->made = MADE_ACCEPTED;
    written->delivered = !known;
    if (weather == WEATHER_ERRORS) {
        written->made = MADE_FAILED;
        written->delivered = false;
    } else if (weather == WEATHER_CUT || weather == WEATHER_HTML) {
        written->made = MADE_UNSURE;
        written->delivered = !known && coin(standin);
    } else if (weather == WEATHER_REFUSES || g_hash_table_contains(standin->refused, written->to)) {
        written->made = MADE_REFUSED;
        written->delivered = false;
    }
    if (written->made == MADE_ACCEPTED || written->delivered)
        written->gateway_id = give_id(standin, written->id);
}

static WireResponse *http(long status, const char *type, const char *body)
{
    WireResponse *response = wire_response_new(PHASE_ANSWERED, status, body, NULL);

    response->content_type = g_strdup(type);
    return response;
}

static WireResponse *answer_text(Weather weather, const Written *written)
{
    switch (written->made) {
    case MADE_ACCEPTED: {
        g_autofree char *body =
            g_strdup_printf("{\"message\":{\"id\":\"%s\"}}", written->gateway_id);
        return http(202, "application/json", body);
    }
    case MADE_FAILED: return http(500, "text/plain", "something broke");
    case MADE_REFUSED: return http(422, "application/json", "{\"error\":\"no such number\"}");
    case MADE_UNSURE: break;
    }
    if (weather == WEATHER_HTML) return http(200, "text/html", "<html>Please log in</html>");
    return wire_response_new(PHASE_UNSURE, 0, NULL, "timed out waiting for the answer");
}

static WireResponse *answer_mail(const Written *written)
{
    switch (written->made) {
    case MADE_ACCEPTED: return wire_response_new(PHASE_ANSWERED, 250, "2.0.0 kept", NULL);
    case MADE_FAILED: return wire_response_new(PHASE_ANSWERED, 451, "4.3.0 try later", NULL);
    case MADE_REFUSED: return wire_response_new(PHASE_ANSWERED, 550, "5.1.1 no such box", NULL);
    case MADE_UNSURE: break;
    }
    return wire_response_new(PHASE_UNSURE, 0, NULL, "closed after the last byte");
}

static WireResponse *take(Standin *standin, Weather weather, Written *written)
{
    static const char *const MADE[] = {"accepts", "fails on", "is unsure of", "refuses"};

    decide(standin, weather, written);
    trace_note(standin->trace, "the gateway %s %.8s to %s%s", MADE[written->made], written->id,
               written->to, written->delivered ? "" : ", not delivered");
    if (standin->written != NULL) standin->written(written, standin->context);
    return written->mail ? answer_mail(written) : answer_text(weather, written);
}

static WireResponse *take_text(Standin *standin, Weather weather, const WireRequest *request)
{
    gsize length;
    const char *bytes = g_bytes_get_data(request->body, &length);
    json_t *body = json_loadb(bytes, length, 0, NULL);
    Written written = {.id = json_string_value(json_object_get(body, "ref")),
                       .to = json_string_value(json_object_get(body, "to")),
                       .text = json_string_value(json_object_get(body, "text"))};

    g_assert(written.id != NULL && written.to != NULL && written.text != NULL);
    WireResponse *response = take(standin, weather, &written);
    json_decref(body);
    return response;
}

/* The message's id stands before the @ of the mail's own. */
static WireResponse *take_mail(Standin *standin, Weather weather, const WireRequest *request)
{
    gsize length;
    const char *bytes = g_bytes_get_data(request->body, &length);
    g_autofree char *text = g_strndup(bytes, length);
    const char *header = strstr(text, "Message-I");
    const char *open = header != NULL ? strchr(header, '<') : NULL;

    g_assert(open != NULL);
    g_autofree char *id = g_strndup(open + 1, strcspn(open + 1, "@>"));
    Written written = {.id = id, .to = request->mail_to->pdata[0], .text = text, .mail = true};
    return take(standin, weather, &written);
}

/* --- the inbox --- */

static WireResponse *answer_poll(Standin *standin, Weather weather, const WireRequest *request)
{
    const char *after = strstr(request->url, "after=");
    guint from = after != NULL ? (guint)g_ascii_strtoull(after + strlen("after="), NULL, 10) : 0;
    GString *body = g_string_new("{\"messages\":[");
    guint to = MIN(from + PAGE, standin->inbox->len);

    if (standin->acknowledged != NULL) standin->acknowledged(from, standin->context);
    for (guint i = from; i < to; i++)
        g_string_append_printf(body, "%s%s", i > from ? "," : "",
                               (const char *)standin->inbox->pdata[i]);
    g_string_append_printf(body, "],\"next\":\"%u\"}", to);
    WireResponse *response =
        weather == WEATHER_ERRORS || weather == WEATHER_REFUSES ? http(503, "text/plain", "later")
        : weather == WEATHER_HTML ? http(200, "text/html", "<p>Log in</p>")
        : weather == WEATHER_CUT  ? wire_response_new(PHASE_UNSURE, 0, NULL, "timed out")
                                  : http(200, "application/json", body->str);
    g_string_free(body, TRUE);
    return response;
}

static WireResponse *unreachable(void)
{
    WireResponse *response = wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "connection refused");

    response->unreachable = true;
    return response;
}

WireResponse *standin_answer(const WireRequest *request, void *context)
{
    Standin *standin = context;
    Weather weather = weather_of_request(standin);

    standin->knocks += request->kind == EXCHANGE_KNOCK;
    bool polls = request->kind == EXCHANGE_HTTP && strcmp(request->method, "GET") == 0;
    if (weather == WEATHER_DEAD && polls && standin->kept > 0) {
        standin->kept--;
        return wire_response_new(PHASE_UNSURE, 0, NULL, "timed out waiting for the answer");
    }
    if (weather == WEATHER_DEAD) return unreachable();
    if (request->kind == EXCHANGE_KNOCK) return wire_response_new(PHASE_ANSWERED, 0, NULL, NULL);
    if (request->kind == EXCHANGE_SMTP) return take_mail(standin, weather, request);
    if (polls) return answer_poll(standin, weather, request);
    return take_text(standin, weather, request);
}
