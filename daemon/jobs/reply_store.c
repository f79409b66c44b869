/* SPDX-License-Identifier: Apache-2.0 */
/* What comes in is kept, word for word and once. */
#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/jobs/erase.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/reply_sender.h"

#define MAY_BE_OLD                                                                                 \
    "the gateway says no time, and a text whose words are gone came under this id: it may be "     \
    "that one, told again"

static char *words_of(Job *job, Channel channel, const Incoming *incoming)
{
    if (incoming->text == NULL) return g_strdup(incoming->raw);
    return channel == CHANNEL_EMAIL ? reply_mail_words(job, incoming) : g_strdup(incoming->text);
}

/* The characters of a text without its spaces (g_free); NULL for NULL. */
static char *bare_words(const char *text)
{
    if (text == NULL) return NULL;
    g_autofree char *plain = g_utf8_normalize(text, -1, G_NORMALIZE_ALL);
    GString *bare = g_string_new(NULL);
    for (const char *at = plain != NULL ? plain : ""; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar each = g_utf8_get_char(at);
        if (!g_unichar_isspace(each)) g_string_append_unichar(bare, each);
    }
    return g_string_free(bare, FALSE);
}

/* What the message is known by, whatever id or gateway it comes under, or NULL: gateways of texts make a new id for a second
 * telling, and without their time two equal texts may be two answers; with it they are one. Mails have an id of their sender's:
 * two of them with the same words in the same second are two. */
static char *print_of(Job *job, Channel channel, const Incoming *incoming, const char *text)
{
    if (incoming->at_ms < 0 || incoming->from == NULL || text == NULL) return NULL;
    g_autofree char *address = reply_address(job, incoming->from, channel);
    g_autofree char *named = channel == CHANNEL_EMAIL && incoming->id != NULL
                                 ? g_strconcat(incoming->id, "\n", text, NULL)
                                 : g_strdup(text);
    return id_reply_fingerprint(address, named, incoming->at_ms);
}

/* The instant that goes into the id of a message without one. A gateway that lists what osier cannot read gives it again at
 * each poll: without a sender or words, the same bytes are the same thing for a day. */
static int64_t known_at(Job *job, const Incoming *incoming)
{
    if (incoming->at_ms >= 0) return incoming->at_ms;
    if (incoming->from != NULL && incoming->text != NULL) return job->now_ms;
    return job_day(job, job->clinic->zone)->from_ms;
}

/* Was it here, and has lost its words since? A mailbox that is listed anew gives mails of years ago again: they are not told
 * now. */
static bool is_forgotten(Job *job, const char *id)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_ERASED, id);

    return row != NULL;
}

/* Was it sent after the one that lost its words was here? The two clocks may differ, and a time may be read in a wrong zone. */
static bool is_younger(Job *job, const char *forgotten, const Incoming *incoming)
{
    return incoming->at_ms > find_first_heard(job->tx, forgotten) + DAY_MS;
}

/* Ways of telling that one gateway has may differ in spaces and in how numbers are written. */
static bool says_the_same(Job *job, const Row *reply, const Incoming *incoming, const char *text)
{
    g_autofree char *from = reply_address(job, row_text(reply, REPLY_FROM), CHANNEL_SMS);
    g_autofree char *address = reply_address(job, incoming->from, CHANNEL_SMS);
    g_autofree char *words = bare_words(row_text(reply, REPLY_TEXT));
    g_autofree char *bare = bare_words(text);

    return g_strcmp0(from, address) == 0 && g_strcmp0(words, bare) == 0;
}

/* Without a time nobody can tell whether it is what was here, or a sign of today under an id that was given out again. From somebody
 * who was erased it is taken for the former, since an erasure ends never; but not from a client of today with that address. */
static bool may_be_old(Job *job, const char *id, const Incoming *incoming)
{
    if (incoming->at_ms >= 0 || !is_forgotten(job, id)) return false;
    g_autofree char *address = reply_address(job, incoming->from, CHANNEL_SMS);
    if (!erase_knows(job, address)) return true;
    g_autoptr(GPtrArray) clients = find_contacts_by_address(job->tx, address);
    return clients->len > 0;
}

/* Is another message kept under that id? What has lost its words is taken for the same where its time says so. */
static bool is_another_under(Job *job, const char *id, const Incoming *incoming, const char *text)
{
    if (is_forgotten(job, id))
        return may_be_old(job, id, incoming) || is_younger(job, id, incoming);
    g_autoptr(Row) there = tx_get_text(job->tx, TABLE_REPLY, id);
    return there != NULL && !says_the_same(job, there, incoming, text);
}

/* The id that a message is kept under. A gateway of texts that counts anew, or tells of a message first in part and then as a whole,
 * gives one id to two: then the second is known by its sender and words as well. */
static char *kept_as(Job *job, const char *gateway, Channel channel, const Incoming *incoming,
                     const char *text, bool *doubtful)
{
    g_autofree char *id =
        id_reply(gateway, incoming->id, incoming->from, text, known_at(job, incoming));
    if (channel != CHANNEL_SMS || incoming->id == NULL ||
        !is_another_under(job, id, incoming, text))
        return g_steal_pointer(&id);
    *doubtful = may_be_old(job, id, incoming);
    g_autofree char *address = reply_address(job, incoming->from, channel);
    g_autofree char *bare = bare_words(text);
    g_autofree char *named =
        g_strdup_printf("%s\n%s\n%s", incoming->id, address != NULL ? address : "", bare);
    return id_reply(gateway, named, NULL, NULL, 0);
}

bool reply_store(Job *job, const char *gateway, Channel channel, const Incoming *incoming)
{
    if (incoming->automatic && !reply_concerns_client(job, incoming)) return false;
    g_autofree char *text = words_of(job, channel, incoming);
    int64_t at_ms = incoming->at_ms >= 0 ? incoming->at_ms : job->now_ms;
    bool doubtful = false;
    g_autofree char *id = kept_as(job, gateway, channel, incoming, text, &doubtful);
    g_autofree char *print = print_of(job, channel, incoming, text);
    g_autoptr(Row) before = tx_get_text(job->tx, TABLE_REPLY, id);

    if (before != NULL || (print != NULL && find_fingerprint(job->tx, print) > 0)) return false;
    if (is_forgotten(job, id)) return false;
    json_t *body =
        json_pack("{s:s, s:s?, s:s?, s:s?, s:s, s:s?, s:I, s:I, s:s?}", "gateway", gateway,
                  "gateway_id", incoming->id, "fingerprint", print, "from", incoming->from,
                  "channel", channel_name(channel), "text", text, "at", (json_int_t)at_ms,
                  "arrived", (json_int_t)job->now_ms, "problem",
                  incoming->problem == NULL && doubtful ? MAY_BE_OLD : incoming->problem);
    if (incoming->ref != NULL) json_object_set_new(body, "answers", json_string(incoming->ref));
    if (incoming->automatic) json_object_set_new(body, "automatic", json_true());
    tx_append(job->tx, "reply.received", id, "client", NULL, body);
    return true;
}
