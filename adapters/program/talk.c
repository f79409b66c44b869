/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/program/talk.h"

#include <jansson.h>
#include <string.h>

#include "core/calendar/date.h"

enum { ID_BYTES_MAX = 200, WORDS_MAX = 200, RETRY_S_MAX = 86400 };

/* --- what it says --- */

/* A text of some length, or NULL. */
static const char *text_of(const json_t *object, const char *key, size_t bytes_max)
{
    const char *text = json_string_value(json_object_get(object, key));

    return text != NULL && *text != '\0' && strlen(text) <= bytes_max ? text : NULL;
}

/* One line of at most 200 characters, or NULL. */
static char *words_of(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));

    if (text == NULL) return NULL;
    char *words = g_utf8_substring(text, 0, MIN(g_utf8_strlen(text, -1), WORDS_MAX));
    for (char *at = words; *at != '\0'; at++)
        if (g_ascii_iscntrl(*at)) *at = ' ';
    return words;
}

static void broken(Talk *talk, const char *why)
{
    talk->type = TALK_BROKEN;
    g_free(talk->words);
    talk->words = g_strdup(why);
}

static void read_fate(const json_t *object, Talk *talk)
{
    static const struct {
        const char *name;
        Fate fate;
    } FATES[] = {{"accepted", FATE_ACCEPTED},
                 {"refused", FATE_REFUSED},
                 {"later", FATE_WAITING},
                 {"none", FATE_WAITING},
                 {"unsure", FATE_UNSURE}};
    const char *name = text_of(object, "fate", ID_BYTES_MAX);
    const json_t *wait = json_object_get(object, "after");

    if (talk->id == NULL) {
        broken(talk, "a fate without the id of its message");
        return;
    }
    for (size_t i = 0; name != NULL && i < G_N_ELEMENTS(FATES); i++) {
        if (strcmp(FATES[i].name, name) != 0) continue;
        talk->settlement = (Settlement){.fate = FATES[i].fate, .retry_after_s = -1};
        talk->settlement.reason = words_of(object, "reason");
        talk->settlement.gateway_id = g_strdup(text_of(object, "gateway_id", ID_BYTES_MAX));
        if (json_is_integer(wait))
            talk->settlement.retry_after_s = CLAMP(json_integer_value(wait), 0, RETRY_S_MAX);
        return;
    }
    broken(talk, "a fate that is none of accepted, refused, later, none, unsure");
}

static void read_receipt(const json_t *object, Talk *talk)
{
    const char *id = text_of(object, "gateway_id", ID_BYTES_MAX);
    const char *fate = text_of(object, "fate", ID_BYTES_MAX);
    bool delivered = g_strcmp0(fate, "delivered") == 0;

    if (id == NULL || (!delivered && g_strcmp0(fate, "failed") != 0)) {
        broken(talk, "a receipt needs gateway_id, and delivered or failed as its fate");
        return;
    }
    talk->receipt = g_new0(Receipt, 1);
    talk->receipt->gateway_id = g_strdup(id);
    talk->receipt->fate = delivered ? FATE_DELIVERED : FATE_FAILED;
}

/* Without a sender or a text it goes to a person as it came. */
static void read_incoming(const json_t *object, const char *line, Talk *talk)
{
    const char *at = text_of(object, "at", ID_BYTES_MAX);
    Incoming *incoming = g_new0(Incoming, 1);

    if (talk->id == NULL) {
        g_free(incoming);
        broken(talk, "an incoming message without an id, which could never be acknowledged");
        return;
    }
    talk->incoming = incoming;
    incoming->id = g_strdup(talk->id);
    incoming->from = g_strdup(text_of(object, "from", ID_BYTES_MAX));
    incoming->text = g_strdup(json_string_value(json_object_get(object, "text")));
    if (at == NULL || !instant_parse(at, &incoming->at_ms) || incoming->at_ms < 0)
        incoming->at_ms = -1;
    if (incoming->from == NULL)
        incoming->problem = g_strdup("the program gave no sender");
    else if (incoming->text == NULL)
        incoming->problem = g_strdup("the program gave no text");
    if (incoming->problem != NULL) incoming->raw = g_strdup(line);
}

void talk_read(const char *line, size_t length, Talk *talk)
{
    static const char *const TYPES[] = {"hello", "fate", "receipt", "incoming", "health"};
    json_t *object = json_loadb(line, length, JSON_REJECT_DUPLICATES, NULL);
    const char *type = text_of(object, "type", ID_BYTES_MAX);

    *talk = (Talk){.type = TALK_UNKNOWN};
    for (TalkType i = TALK_HELLO; type != NULL && i < TALK_UNKNOWN; i++)
        if (strcmp(TYPES[i], type) == 0) talk->type = i;
    talk->id = g_strdup(text_of(object, "id", ID_BYTES_MAX));
    talk->version = (int)json_integer_value(json_object_get(object, "version"));
    if (!json_is_object(object))
        broken(talk, "no JSON object on one line");
    else if (type == NULL)
        broken(talk, "no type");
    else if (talk->type == TALK_FATE)
        read_fate(object, talk);
    else if (talk->type == TALK_RECEIPT)
        read_receipt(object, talk);
    else if (talk->type == TALK_INCOMING)
        read_incoming(object, line, talk);
    else if (talk->type == TALK_HEALTH)
        talk->words = words_of(object, "words");
    talk->well = !json_is_false(json_object_get(object, "well"));
    json_decref(object);
}

void talk_clear(Talk *talk)
{
    g_clear_pointer(&talk->id, g_free);
    g_clear_pointer(&talk->words, g_free);
    settlement_clear(&talk->settlement);
    g_clear_pointer(&talk->receipt, receipt_free);
    g_clear_pointer(&talk->incoming, incoming_free);
}

/* --- what it is told --- */

static char *line_of(json_t *object)
{
    char *dumped = json_dumps(object, JSON_COMPACT);
    char *line = g_strdup(dumped);

    free(dumped);
    json_decref(object);
    return line;
}

char *talk_hello(const char *gateway)
{
    return line_of(
        json_pack("{s:s, s:i, s:s}", "type", "hello", "version", TALK_VERSION, "gateway", gateway));
}

char *talk_send(const Outgoing *message)
{
    return line_of(json_pack("{s:s, s:s, s:s, s:s}", "type", "send", "id", message->id, "to",
                             message->to, "text", message->text));
}

char *talk_ask(const char *id)
{
    return line_of(json_pack("{s:s, s:s}", "type", "ask", "id", id));
}

char *talk_taken(const char *id)
{
    return line_of(json_pack("{s:s, s:s}", "type", "taken", "id", id));
}

char *talk_health(void)
{
    return line_of(json_pack("{s:s}", "type", "health"));
}
