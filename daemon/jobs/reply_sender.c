/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/reply_sender.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/watch/duty.h"
#include "daemon/jobs/sharers.h"

#define SUBJECTS_BACK_MS (30 * DAY_MS)

enum { PREFIXES_MAX = 5, PREFIX_LETTERS_MAX = 5 };

char *reply_address(Job *job, const char *from, Channel channel)
{
    const char *why;

    if (from == NULL) return NULL;
    if (channel == CHANNEL_EMAIL) return g_utf8_strdown(from, -1);
    char *number = phone_e164(from, job->clinic->country_code, &why);
    return number != NULL ? number : g_strdup(from);
}

bool reply_is_from_staff(const Clinic *clinic, const char *address, Channel channel)
{
    if (address == NULL) return false;
    if (channel != CHANNEL_EMAIL) return duty_by_number(clinic, address) != NULL;
    for (guint i = 0; i < clinic->digest_to->len; i++)
        if (g_ascii_strcasecmp(clinic->digest_to->pdata[i], address) == 0) return true;
    for (guint i = 0; i < clinic->duty->len; i++) {
        const DutyPerson *person = clinic->duty->pdata[i];
        if (person->email != NULL && g_ascii_strcasecmp(person->email, address) == 0) return true;
    }
    return false;
}

/* --- the message that is answered ----------------------------------------------------------- */

typedef struct {
    char *client;
    char *session;
    char *subject;
} Answered;

static void answered_clear(Answered *answered)
{
    g_free(answered->client);
    g_free(answered->session);
    g_free(answered->subject);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Answered, answered_clear)

/* A message to a client that has left, or is thought not to have. An alert names a client and goes to others. */
static void find_answered(Job *job, const char *id, Answered *answered)
{
    g_autoptr(Row) sent = id != NULL ? tx_get_text(job->tx, TABLE_MESSAGE, id) : NULL;
    g_autoptr(Row) held = id != NULL ? tx_get_text(job->tx, TABLE_OUTBOX, id) : NULL;

    *answered = (Answered){0};
    if (sent != NULL && g_strcmp0(row_text(sent, MESSAGE_KIND), "alert") != 0)
        *answered = (Answered){g_strdup(row_text(sent, MESSAGE_CLIENT)),
                               g_strdup(row_text(sent, MESSAGE_SESSION)),
                               g_strdup(row_text(sent, MESSAGE_SUBJECT))};
    else if (held != NULL && strcmp(row_text(held, OUTBOX_KIND), "alert") != 0)
        *answered = (Answered){g_strdup(row_text(held, OUTBOX_CLIENT)),
                               g_strdup(row_text(held, OUTBOX_SESSION)),
                               g_strdup(row_text(held, OUTBOX_SUBJECT))};
}

/* --- who ------------------------------------------------------------------------------------ */

static bool holds(const GPtrArray *ids, const char *id)
{
    for (guint i = 0; i < ids->len; i++)
        if (strcmp(ids->pdata[i], id) == 0) return true;
    return false;
}

static void add_client(GPtrArray *clients, const char *client)
{
    g_ptr_array_add(clients, g_strdup(client));
}

/* What was sent to one of several who share an address is answered by that one; an answer to somebody else's message may
 * be from either. */
static void add_answered(GPtrArray *clients, const char *client)
{
    if (client == NULL) return;
    if (holds(clients, client)) g_ptr_array_set_size(clients, 0);
    add_client(clients, client);
}

/* Who shares a phone with nobody but clients who have ended has it alone; where all have, it may be any of them. */
static void add_sharers(ReplySender *sender, const GPtrArray *sharers)
{
    bool all = sharers_now(sharers) == 0;

    for (guint i = 0; i < sharers->len; i++) {
        const Person *person = ((const Sharer *)sharers->pdata[i])->person;
        if (all || !person->ended) add_client(sender->clients, person->id);
    }
}

/* By the letter that an answer begins with. Where it is the letter of one who has ended, nobody's is certain. */
static void find_letter(Job *job, const GPtrArray *sharers, const char *text, ReplySender *sender)
{
    const char *rest;
    const Sharer *named = sharers_named(sharers, text, &rest);

    if (named == NULL) return;
    sender->text = g_strdup(rest);
    if (named->person->ended) {
        if (!holds(sender->clients, named->person->id))
            add_client(sender->clients, named->person->id);
        sender->shared = sender->clients->len > 1;
    } else if (sharers_answers(job, sharers, named, rest) &&
               sharers_were_told(job, sharers, named)) {
        g_ptr_array_set_size(sender->clients, 0);
        add_client(sender->clients, named->person->id);
    }
}

void reply_sender_find(Job *job, const Row *reply, Channel channel, ReplySender *sender)
{
    const char *text = row_text(reply, REPLY_TEXT);
    g_auto(Answered) answered = {0};

    *sender = (ReplySender){.address = reply_address(job, row_text(reply, REPLY_FROM), channel),
                            .clients = g_ptr_array_new_with_free_func(g_free)};
    g_autoptr(GPtrArray) contacts =
        find_contacts_by_address(job->tx, sender->address != NULL ? sender->address : "");
    g_autoptr(GPtrArray) sharers = contacts->len > 1 ? sharers_of(job, sender->address) : NULL;
    if (sharers != NULL)
        add_sharers(sender, sharers);
    else if (contacts->len == 1)
        add_client(sender->clients, row_text(contacts->pdata[0], CONTACT_CLIENT));
    sender->known = contacts->len > 0;
    sender->shared = sender->clients->len > 1;
    find_answered(job, row_text(reply, REPLY_ANSWERS), &answered);
    add_answered(sender->clients, answered.client);
    if (sender->clients->len == 1 && g_strcmp0(sender->clients->pdata[0], answered.client) == 0)
        sender->session = g_steal_pointer(&answered.session);
    bool whole = text != NULL && row_is_null(reply, REPLY_PROBLEM);
    if (channel == CHANNEL_SMS && sharers != NULL && answered.client == NULL && whole)
        find_letter(job, sharers, text, sender);
}

void reply_sender_clear(ReplySender *sender)
{
    g_free(sender->address);
    g_free(sender->session);
    g_free(sender->text);
    if (sender->clients != NULL) g_ptr_array_unref(sender->clients);
}

bool reply_concerns_client(Job *job, const Incoming *incoming)
{
    g_autofree char *address = reply_address(job, incoming->from, CHANNEL_EMAIL);
    g_autoptr(GPtrArray) contacts =
        find_contacts_by_address(job->tx, address != NULL ? address : "");
    g_auto(Answered) answered = {0};

    find_answered(job, incoming->ref, &answered);
    return contacts->len > 0 || answered.client != NULL;
}

/* --- subject -------------------------------------------------------------------------------- */

/* What stands behind "Re:", "AW:", "Fwd:", "RE[2]:" and the like; *prefixed: there was one. */
static const char *bare_subject(const char *subject, bool *prefixed)
{
    *prefixed = false;
    for (int n = 0; n < PREFIXES_MAX; n++) {
        const char *at = subject;
        while (g_ascii_isalpha(*at))
            at++;
        if (at == subject || at - subject > PREFIX_LETTERS_MAX) break;
        if (*at == '[') at += strspn(at, "[]0123456789");
        if (*at != ':') break;
        subject = at + 1 + strspn(at + 1, " \t");
        *prefixed = true;
    }
    return subject;
}

static bool same_words(const char *left, const char *right)
{
    if (left == NULL || right == NULL) return false;
    g_autofree char *one = g_utf8_casefold(left, -1), *other = g_utf8_casefold(right, -1);
    g_strstrip(one);
    g_strstrip(other);
    return strcmp(one, other) == 0;
}

/* Was a mail of that subject sent to whoever has the address? For programs that answer without saying what. */
static bool was_sent(Job *job, const char *address, const char *subject)
{
    g_autoptr(GPtrArray) contacts =
        find_contacts_by_address(job->tx, address != NULL ? address : "");

    for (guint i = 0; i < contacts->len; i++) {
        g_autoptr(GPtrArray) sent = find_messages(
            job->tx, row_text(contacts->pdata[i], CONTACT_CLIENT), job->now_ms - SUBJECTS_BACK_MS);
        for (guint k = 0; k < sent->len; k++)
            if (same_words(row_text(sent->pdata[k], MESSAGE_SUBJECT), subject)) return true;
    }
    return false;
}

char *reply_mail_words(Job *job, const Incoming *incoming)
{
    const char *text = incoming->text != NULL ? incoming->text : "";
    const char *subject = incoming->subject != NULL ? incoming->subject : "";
    g_auto(Answered) answered = {0};
    bool prefixed;
    const char *bare = bare_subject(subject, &prefixed);

    if (*bare == '\0') return *text != '\0' ? g_strdup(text) : NULL;
    find_answered(job, incoming->ref, &answered);
    g_autofree char *address = reply_address(job, incoming->from, CHANNEL_EMAIL);
    bool ours = same_words(bare, answered.subject) || (prefixed && was_sent(job, address, bare));
    if (ours) return *text != '\0' ? g_strdup(text) : NULL;
    return *text != '\0' ? g_strdup_printf("%s\n\n%s", subject, text) : g_strdup(subject);
}
